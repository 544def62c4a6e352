"""A run under examination, and its reruns on the same draws, each made once."""

from collections.abc import Callable
from functools import partial
from typing import Any, Literal

import msgspec
import numpy as np
from msgspec.structs import replace

from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.simulate import MOST_KEPT_BYTES, Engine
from radiosim.engine.stratification import EVERY
from radiosim.errors import RadiosimError, ScenarioError, TraceError
from radiosim.measure.figures import flat
from radiosim.measure.summary import Summary
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.scenario.traffic import events_a_second
from radiosim.study.starts import numbers_of, simulate_starts
from radiosim.units import NS_PER_US
from radiosim.vehicle.feedback import simulate
from radiosim.vehicle.fold.program_state import FAILSAFE, WRITTEN
from radiosim.vehicle.supply_limits import can_brown_out
from radiosim.vehicle.vehicle import run_vehicle

Better = Literal["less", "more"]
Overrides = tuple[str, ...]
"""`KEY=VALUE` lines, as `--set` takes them."""
Reread = Callable[[Overrides], Scenario]
"""The scenario with lines pasted, as its file is read with them; raises ScenarioError."""

RERUN_S = 1_000.0
"""Simulated seconds that one rerun may take: some starts, the worst one among them."""
MOST_STARTS = 2
MOST_EVENTS = 1e6
"""Frames, pulses and the like that any rerun may have: some seconds on one core."""
FAULT = "fault.reaction_ms"
"""Path of the figure of a drill: from its fault to the failsafe value in effect, of several the
longest."""
LURCH = "fault.lurch_us"
"""Path, before an output's name, of how far its pulse jumps at once when failsafe ends."""


class Changes(msgspec.Struct, frozen=True, kw_only=True):
    """What is otherwise in a rerun: lines that are pasted, then keys set in what comes of them."""

    pasted: Overrides = ()
    keys: Overrides = ()


class Case(msgspec.Struct, frozen=True, kw_only=True):
    """A run, the cures that its scenario is given, and reruns of both."""

    run: Scenario
    """As it was simulated."""
    summary: Summary
    engine: Engine = "auto"
    reread: Reread | None = None
    """None: lines are set in the scenario as it was filled in."""
    given: Overrides = ()
    """Lines of the cures found so far."""
    _scenarios: dict[Changes, Scenario] = msgspec.field(default_factory=dict)
    _made: dict[tuple[Changes, int], Summary] = msgspec.field(default_factory=dict)
    suspects: dict[tuple[Any, Overrides], Any] = msgspec.field(default_factory=dict)
    """What each family suspects of the scenario with the lines given."""
    plans: dict[tuple[Overrides, int], Plan] = msgspec.field(default_factory=dict)
    """The plan of a start of the scenario with some lines given."""
    _numbers: dict[tuple[Changes, int], dict[str, float]] = msgspec.field(default_factory=dict)
    """Every number of a rerun's figures by its path."""
    _of_streams: dict[tuple[Changes, int], dict[str, float]] = msgspec.field(default_factory=dict)
    """Of those, where nobody has looked at outputs."""

    @property
    def scenario(self) -> Scenario:
        """The scenario with the cures found so far."""
        return self.scenario_with(Changes(pasted=self.given))

    @property
    def plan(self) -> Plan:
        """The plan of its first start: what does not depend on the draws of a start is in it."""
        key = self.given, self.summary.first_start
        if key not in self.plans:
            self.plans[key] = make_plan(self.scenario, self.summary.first_start)
        return self.plans[key]

    def cured(self, given: Overrides) -> "Case":
        """The same run, its scenario given these lines; what was rerun is known to both."""
        return replace(self, given=given)

    def later(self, summary: Summary, given: Overrides) -> "Case":
        """The scenario as cured, with what it does then."""
        return replace(self, summary=summary, given=given, suspects={})

    def scenario_with(self, changes: Changes) -> Scenario:
        """The scenario with lines pasted, then keys set; ScenarioError if it is not sound."""
        found = self._scenarios.get(changes)
        if found is None:
            if changes.keys:
                found = changed(self.scenario_with(Changes(pasted=changes.pasted)), changes.keys)
            elif changes.pasted:
                found = (self.reread or partial(changed, self.run))(changes.pasted)
            else:
                found = self.run
            self._scenarios[changes] = found
        return found

    def starts(self, figure: str) -> tuple[int, ...]:
        """The starts to look at again: the worst one for a figure, and some that were run."""
        first = self.summary.first_start
        if figure.startswith("fault."):
            # A drill wants an ordinary start: in one placed on a beat, frames are lost for seconds.
            return (first if first % EVERY else first + 1,)
        found = self.summary.worst.get(figure)
        worst = first if found is None else found.start
        count = min(MOST_STARTS, self.summary.starts, int(RERUN_S / self.run.duration_s))
        others = [k for k in range(first, first + self.summary.starts) if k != worst]
        return (worst, *others[: max(0, count - 1)])

    def value(
        self, figure: str, changes: Changes, start: int, *, is_whole: bool = False
    ) -> float | None:
        """A figure of one start; None: there is none. ScenarioError if it is not sound.

        `is_whole`: other figures of it are asked for as well.
        """
        if figure.startswith(LURCH):
            return self._lurch_us(changes, figure.removeprefix(f"{LURCH}."))
        if figure == FAULT:
            found = [fault.reaction_ms for fault in self.start(changes, start).figures.faults]
            return None if None in found else max(ms for ms in found if ms is not None)
        # Noise that is not simulated is too rare to pass for any frame (rule D6).
        none = 0.0 if ".noise." in figure else None
        is_streams = figure.startswith("stream.") and not is_whole and changes != Changes()
        if is_streams and (changes, start) not in self._made:
            return self._without_outputs(changes, start).get(figure, none)
        numbers = self._numbers.get((changes, start))
        if numbers is None:
            numbers = self._numbers[changes, start] = flat(self.start(changes, start).figures)
        return numbers.get(figure, none)

    def start(self, changes: Changes, start: int) -> Summary:
        """One start, run once; ScenarioError if the scenario is not sound."""
        made = self._made.get((changes, start))
        if made is None:
            scenario = self.scenario_with(changes)
            made = simulate_starts(scenario, first=start, count=1, engine=self.engine, workers=1)
            self._made[changes, start] = made
        return made

    def _without_outputs(self, changes: Changes, start: int) -> dict[str, float]:
        """Numbers of one start in which nobody looks at outputs: those of streams are the same in
        less time.

        Outputs act on the link through the supply alone (rule E4).
        """
        numbers = self._of_streams.get((changes, start))
        if numbers is None:
            scenario = self.scenario_with(changes)
            if not can_brown_out(scenario):
                scenario = replace(scenario, output={}, requirement=())
            numbers = numbers_of(scenario, start, self.engine)
            self._of_streams[changes, start] = numbers
        return numbers

    def is_sound(self, changes: Changes) -> bool:
        """Whether the scenario can be simulated with these changes, and soon enough."""
        try:
            scenario = self.scenario_with(changes)
        except ScenarioError:
            return False
        # A drill waits for what it shows: timeouts and boots, which may be days.
        return _events(scenario) <= max(MOST_EVENTS, _events(self.run))

    def _lurch_us(self, changes: Changes, output: str) -> float:
        """How far the first pulse after failsafe is from the last pulse of it, us; 0: none came."""
        scenario = self.scenario_with(changes)
        try:
            trace = simulate(
                scenario,
                start=self.starts(LURCH)[0],
                engine=self.engine,
                most_bytes=MOST_KEPT_BYTES,
            )
        except TraceError:  # too long to be kept
            return 0.0
        record = run_vehicle(trace).outputs[output]
        kinds = record.told["kind"][record.effects["entry"]]
        ends = np.flatnonzero((kinds[:-1] == FAILSAFE) & (kinds[1:] == WRITTEN))
        levels = record.effects["level"]
        return max((abs(float(levels[k + 1] - levels[k])) for k in ends), default=0.0) / NS_PER_US


def case_of(scenario: Scenario, summary: Summary, engine: Engine, reread: Reread | None) -> Case:
    """A run under examination; a source that does not give it again is not read again."""
    is_alone = summary.starts == 1
    return Case(
        run=scenario,
        summary=summary,
        engine=engine,
        reread=reread if reread is not None and _gives(reread, scenario) else None,
        _made={(Changes(), summary.first_start): summary} if is_alone else {},
    )


def _gives(reread: Reread, scenario: Scenario) -> bool:
    """Whether the source is still what was simulated; a pipe is empty by now."""
    try:
        return reread(()) == scenario
    except RadiosimError:
        return False


def _events(scenario: Scenario) -> float:
    """Estimates the events of one start."""
    return events_a_second(scenario) * scenario.duration_s
