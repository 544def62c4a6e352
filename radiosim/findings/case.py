"""One run under examination: its scenario, its figures, and reruns of it on the same draws."""

from dataclasses import dataclass, field

import numpy as np

from radiosim.engine.choice import Engine
from radiosim.engine.simulate import simulate
from radiosim.engine.stratification import EVERY
from radiosim.errors import ScenarioError
from radiosim.findings.suspect import Better, Overrides
from radiosim.measure.figures import flat
from radiosim.measure.summary import Summary
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.scenario.size import events_a_second
from radiosim.study.starts import simulate_starts
from radiosim.units import NS_PER_US
from radiosim.vehicle.fold.records import FAILSAFE, WRITTEN
from radiosim.vehicle.kept import run_vehicle

RERUN_S = 1_000.0
"""Simulated seconds that one rerun may take: some starts, the worst one among them."""
MOST_STARTS = 3
MOST_EVENTS = 1e6
"""Frames, pulses and the like that any rerun may have: some seconds on one core."""
FAULT = "fault.reaction_ms"
"""Path of the figure of a drill: from its fault to the failsafe value in effect."""
LURCH = "fault.lurch_us"
"""Path, before an output's name, of how far its pulse jumps at once when failsafe ends."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A run and its reruns, each made once."""

    scenario: Scenario
    summary: Summary
    engine: Engine = "auto"
    _made: dict[tuple[Overrides, int], Summary | None] = field(default_factory=dict)

    def starts(self, figure: str) -> tuple[int, ...]:
        """The starts to look at again: the worst one for a figure, and some that were run."""
        first = self.summary.first_start
        if figure.startswith("fault."):
            # A drill wants an ordinary start: in one placed on a beat, frames are lost for seconds.
            return (first if first % EVERY else first + 1,)
        found = self.summary.worst.get(figure)
        worst = first if found is None else found.start
        count = min(MOST_STARTS, self.summary.starts, int(RERUN_S / self.scenario.duration_s))
        others = [k for k in range(first, first + self.summary.starts) if k != worst]
        return (worst, *others[: max(0, count - 1)])

    def worst_value(self, figure: str, overrides: Overrides, better: Better) -> float | None:
        """A figure in the worst of those starts, with keys set otherwise.

        None: one of them has no such figure. Figures of a drill (`FAULT`, `LURCH`) are those of
        one start. ScenarioError if the keys make no sound scenario.
        """
        starts = self.starts(figure)
        values: list[float | None]
        if figure.startswith(LURCH):
            values = [self._lurch_us(overrides, figure.removeprefix(f"{LURCH}."))]
        else:
            values = [_value(self._rerun(overrides, start), figure) for start in starts]
        present = [value for value in values if value is not None]
        if len(present) < len(values):
            return None
        return min(present) if better == "more" else max(present)

    def is_sound(self, overrides: Overrides) -> bool:
        """Whether the scenario can be simulated with these keys, and soon enough."""
        try:
            scenario = changed(self.scenario, overrides)
        except ScenarioError:
            return False
        # A drill waits for what it shows: timeouts and boots, which may be days.
        return _events(scenario) <= max(MOST_EVENTS, _events(self.scenario))

    def _lurch_us(self, overrides: Overrides, output: str) -> float:
        """How far the first pulse after failsafe is from the last pulse of it, us; 0: none came."""
        scenario = changed(self.scenario, overrides)
        trace = simulate(scenario, start=self.starts(LURCH)[0], engine=self.engine)
        record = run_vehicle(trace).outputs[output]
        kinds = record.told["kind"][record.effects["entry"]]
        ends = np.flatnonzero((kinds[:-1] == FAILSAFE) & (kinds[1:] == WRITTEN))
        levels = record.effects["level"]
        return max((abs(float(levels[k + 1] - levels[k])) for k in ends), default=0.0) / NS_PER_US

    def _rerun(self, overrides: Overrides, start: int) -> Summary:
        made = self._made.get((overrides, start))
        if made is None:
            scenario = changed(self.scenario, overrides)
            made = simulate_starts(scenario, first=start, count=1, engine=self.engine, workers=1)
            self._made[overrides, start] = made
        return made


def _events(scenario: Scenario) -> float:
    """Of one start."""
    return events_a_second(scenario) * scenario.duration_s


def _value(summary: Summary, figure: str) -> float | None:
    if figure == FAULT:
        return summary.figures.faults[-1].reaction_ms
    return flat(summary.figures).get(figure)
