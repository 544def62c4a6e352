"""A start watched for one stream going unfed, in which one can go back, and its levels."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from radiosim.engine.jit import backend_for
from radiosim.engine.plan import make_plan
from radiosim.scenario import Scenario
from radiosim.trace import ReadOutcome
from radiosim.vehicle.output_fold import blocked_spans
from radiosim.vehicle.reaction_bound import soonest_over_ns
from radiosim.vehicle.timer_view import NO_PASSES, NO_READS, Glance, TimerMoment, TimerView

if TYPE_CHECKING:
    from radiosim.engine.fast import Moment as RunMoment


T = TypeVar("T")
FOREVER_NS = 1 << 62
"""For how long a stream goes unfed that is not fed before the timeout."""
SHARES = (0.05, 0.4)
"""Share that should get from a level to the next: about e⁻², where splitting costs least."""
WIDER = 4
"""So many times wider a gap with a smaller share must be to be preferred."""
NEARLY_ALL = 0.9
"""Share that may get to the next level where there is none that fewer pass."""


def first_level_ns(gaps_ns: Sequence[int], timeout_ns: int, wanted: int, least: int) -> int:
    """A level that about `wanted` of some gaps pass, or fewer where they come in lumps."""
    ordered = sorted(min(gap, timeout_ns) for gap in gaps_ns)
    most = min(wanted, len(ordered) - 1)
    longest_gap_ns, level_ns = _chosen_gap(ordered, max(least, wanted // 40), wanted // 10, most)
    if longest_gap_ns == 0:
        _, level_ns = _widest_gap(ordered, min(least, most), most)
    return level_ns


def next_level_ns(unfed_ns: Sequence[int], timeout_ns: int, least: int) -> int | None:
    """A level that some lengths pass, a share in SHARES where that can be; FOREVER_NS: all but it.

    None where fewer than `least` outlast a lump of others.
    """
    ordered = sorted(min(unfed, timeout_ns) for unfed in unfed_ns)
    fewest, most = (round(share * len(ordered)) for share in SHARES)
    if sum(unfed == timeout_ns for unfed in ordered) >= fewest:
        return FOREVER_NS
    longest_gap_ns, level_ns = _chosen_gap(ordered, least, fewest, most)
    if longest_gap_ns == 0:
        longest_gap_ns, level_ns = _widest_gap(ordered, most, round(NEARLY_ALL * len(ordered)))
    return level_ns if longest_gap_ns > 0 else None


def _chosen_gap(ordered: Sequence[int], least: int, fewest: int, most: int) -> tuple[int, int]:
    """The widest gap that `fewest` to `most` pass, unless there is a much wider one above."""
    least = min(least, most)
    longest_gap_ns, level_ns = _widest_gap(ordered, min(max(least, fewest), most), most)
    widest_ns, other_ns = _widest_gap(ordered, least, most)
    return (
        (widest_ns, other_ns) if widest_ns > WIDER * longest_gap_ns else (longest_gap_ns, level_ns)
    )


def _widest_gap(ordered: Sequence[int], fewest: int, most: int) -> tuple[int, int]:
    """The widest span without a length that so many pass, and the level in its middle.

    Lengths come in lumps, a sampling period or a retry apart, and clocks and jitter shift each a
    little: between lumps a level means the same in every start.
    """
    ends = range(len(ordered) - most, len(ordered) - fewest + 1)
    end = max(ends, key=lambda k: ordered[k] - ordered[k - 1])
    low, high = ordered[end - 1], ordered[end]
    return high - low, (low + high + 1) // 2


def drawn_evenly(items: Sequence[T], weights: Sequence[float], count: int, at: float) -> list[T]:
    """`count` of some items, each as often as its weight says, up to one more or less.

    `at`: 0 to 1, where in the first step to begin; right on average if that is uniform
    (systematic resampling).
    """
    step = math.fsum(weights) / count
    drawn, reached, wanted = list[T](), 0.0, at * step
    for item, weight in zip(items, weights, strict=True):
        reached += weight
        while wanted < reached and len(drawn) < count:
            drawn.append(item)
            wanted += step
    # The last can be lost to rounding.
    drawn.extend([items[-1]] * (count - len(drawn)))
    return drawn


class Watch:
    """One stream with a failsafe in one start."""

    def __init__(self, scenario: Scenario, name: str, start: int) -> None:
        from radiosim.engine import fast  # noqa: PLC0415 - loads LLVM, which may be missing

        self.start, self.plan = start, make_plan(scenario, start)
        self._stream = self.plan.streams.index(name)
        self._run = fast.begin(self.plan)
        self._view = TimerView(scenario, self.plan, self._stream, backend_for(self.plan, "fast"))
        self._blocked = blocked_spans(scenario, self.plan, self._stream)
        described = scenario.failsafe[name]
        self._is_fed_by_any = described.fed_by == "any"
        soonest_ns = soonest_over_ns(scenario, described, self.plan.rx.ppb)
        self.timeout_ns = max(soonest_ns, self.plan.rx.pass_ns if self.plan.rx.tick_ns else 0)
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
            feeding = reads[reads["outcome"] == ReadOutcome.READ]
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
        """Goes back to a moment of this start, into another future."""
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
        """Whether a nuisance trip comes before it is fed, in another future."""
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
