"""A start that is watched for one stream going unfed, in which one can go back."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from radiosim.engine.machine import machine_for
from radiosim.engine.plan import make_plan
from radiosim.engine.rules.grid import scaled
from radiosim.scenario import Scenario
from radiosim.study.rare.levels import FOREVER_NS
from radiosim.trace import READ
from radiosim.units import ns_from_ms
from radiosim.vehicle.failsafe import blocked_spans
from radiosim.vehicle.glance import NO_PASSES, NO_READS, Glance, TimerMoment, TimerView

if TYPE_CHECKING:
    from radiosim.engine.fast import Moment as RunMoment


class Watch:
    """One stream with a failsafe in one start."""

    def __init__(self, scenario: Scenario, name: str, start: int) -> None:
        from radiosim.engine import fast  # noqa: PLC0415 - loads numba, which may be missing

        self.start, self.plan = start, make_plan(scenario, start)
        self._stream = self.plan.streams.index(name)
        self._run = fast.begin(self.plan)
        self._view = TimerView(scenario, self.plan, self._stream, machine_for(self.plan))
        self._blocked = blocked_spans(scenario, self.plan, self._stream)
        described = scenario.failsafe[name]
        self._is_fed_by_any = described.fed_by == "any"
        self.timeout_ns = scaled(ns_from_ms(described.timeout_ms), self.plan.rx.ppb)
        self.until_ns = self.plan.until_ns

    @property
    def frames(self) -> int:
        """Frames that the stream's transmitter has sampled."""
        return int(self._run.world["transmitter"][self._stream]["frames"])

    def look(self, at_ns: int) -> Glance:
        """Go on to an instant and look at the timer."""
        for chunk in self._run.run_until(at_ns):
            self._view.take(chunk["reads"], chunk["passes"])
        return self._glance(at_ns)

    def reads_until(self, at_ns: int) -> tuple[Glance, int]:
        """The same, and when the first frame was read meanwhile that can have fed the timer."""
        first_ns = FOREVER_NS
        for chunk in self._run.run_until(at_ns):
            reads = chunk["reads"]
            feeding = reads[reads["outcome"] == READ]
            if not self._is_fed_by_any:
                feeding = feeding[feeding["stream"] == self._stream]
            if len(feeding):
                first_ns = min(first_ns, int(feeding["read_ns"][0]))
            self._view.take(reads, chunk["passes"])
        return self._glance(at_ns), first_ns

    def _glance(self, at_ns: int) -> Glance:
        run = self._run
        if self._view.is_exact:
            return self._view.look(at_ns, NO_READS, NO_PASSES)
        return self._view.look(at_ns, run.waiting(), run.under_way())

    def is_blocked(self, fed_ns: int, at_ns: int) -> bool:
        """Whether an entry then is no nuisance: a fault was active since the last feed (F5)."""
        return any(since <= at_ns and until >= fed_ns for since, until in self._blocked)

    def moment(self, fed_ns: int, at_ns: int, origin: int, weight: float) -> "Moment":
        """Where it stands now."""
        return Moment(
            watch=self,
            run=self._run.moment(),
            timer=self._view.moment(),
            fed_ns=fed_ns,
            at_ns=at_ns,
            origin=origin,
            weight=weight,
        )

    def go_back(self, moment: "Moment", branch: int) -> None:
        """To a moment of this start, into another future."""
        self._run.go_back(moment.run, branch)
        self._view.go_back(moment.timer)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A run that stands where its stream has gone unfed for some level."""

    watch: Watch
    run: "RunMoment"
    timer: TimerMoment
    fed_ns: int
    at_ns: int
    origin: int
    """Number of the first crossing that it stems from."""
    weight: float
    """How much its start counts (rule T6)."""

    def led_on(self, level_ns: int, branch: int) -> "Moment | None":
        """It at the next level in another future; None if the timer is fed or blocked before."""
        watch = self.watch
        at_ns = max(self.at_ns, self.fed_ns + min(level_ns, watch.timeout_ns))
        if at_ns >= watch.until_ns or watch.is_blocked(self.fed_ns, at_ns):
            return None
        watch.go_back(self, branch)
        glance = watch.look(at_ns)
        if glance.is_on or glance.fed_ns != self.fed_ns:
            return None
        return watch.moment(self.fed_ns, at_ns, self.origin, self.weight)

    def trips(self, branch: int) -> bool:
        """Whether the timer trips for nothing before it is fed, in another future."""
        watch, fed_ns = self.watch, self.fed_ns
        at_ns = max(self.at_ns, fed_ns + watch.timeout_ns)
        watch.go_back(self, branch)
        while at_ns < watch.until_ns and not watch.is_blocked(fed_ns, at_ns):
            at_ns = min(at_ns + watch.plan.rx.pass_ns, watch.until_ns)
            glance = watch.look(at_ns)
            if glance.entered_fed_ns == fed_ns:
                return not watch.is_blocked(fed_ns, glance.entered_ns)
            if glance.fed_ns != fed_ns:
                return False
        return False

    def unfed_ns(self, branch: int) -> int:
        """For about how long the stream goes unfed in another future; FOREVER_NS: to the timeout.

        Levels are chosen by it, which need not be exact.
        """
        watch = self.watch
        watch.go_back(self, branch)
        at_ns = min(max(self.at_ns, self.fed_ns + watch.timeout_ns), watch.until_ns)
        glance, read_ns = watch.reads_until(at_ns)
        if glance.fed_ns == self.fed_ns:
            is_over = at_ns >= watch.until_ns or watch.is_blocked(self.fed_ns, at_ns)
            return self.at_ns - self.fed_ns if is_over else FOREVER_NS
        return min(read_ns, glance.fed_ns) - self.fed_ns
