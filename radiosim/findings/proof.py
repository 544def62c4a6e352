"""A run under examination: what is suspected of it, and the proof by reruns on the same draws."""

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from radiosim.engine.simulate import Engine, simulate
from radiosim.engine.stratification import EVERY
from radiosim.errors import ScenarioError
from radiosim.measure.figures import flat
from radiosim.measure.summary import Finding, Summary
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.scenario.traffic import events_a_second
from radiosim.study.starts import simulate_starts
from radiosim.units import NS_PER_US
from radiosim.vehicle.fold.program_state import FAILSAFE, WRITTEN
from radiosim.vehicle.vehicle import run_vehicle

Better = Literal["less", "more"]
Overrides = tuple[str, ...]
"""`KEY=VALUE` lines, as `--set` takes them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A cause that the figures point to."""

    what: str
    """What may be wrong: a sentence without a full stop."""
    where: str
    """Path of the key, or of the unit, that it is about."""
    why: str
    """The numbers of the run that point to it."""
    figure: str
    """Path of the figure that shows it; see `Case.value`."""
    removed: Overrides
    """Takes the cause away, be it possible on a vehicle or not."""
    cures: tuple[Overrides, ...]
    """What a builder can do, the best first; the first that helps is given."""
    advice: str = ""
    """Said with the cure: what it costs, or what to do where no key does it."""
    measure: str
    """How to see it on the bench."""
    drill: Overrides = ()
    """Set in every rerun, before and after: a fault that shows it."""
    is_certain: bool = False
    """The rules alone show it: a rerun only measures it."""
    better: Better = "less"
    share: float = 0.7
    """Proved if what is left of the figure (less: of its value, more: of what lacks to 1) is
    at most this share; 0: only if it never came before."""


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
    """Estimates the events of one start."""
    return events_a_second(scenario) * scenario.duration_s


def _value(summary: Summary, figure: str) -> float | None:
    if figure == FAULT:
        return summary.figures.faults[-1].reaction_ms
    return flat(summary.figures).get(figure)


def prove(case: Case, suspect: Suspect) -> Finding | None:
    """The finding, if taking the cause away on the same draws makes the figure better.

    None too where no sound scenario is left without the cause: nothing can be proved then.
    """
    if not case.is_sound((*suspect.drill, *suspect.removed)):
        return None
    before = _worst_value(case, suspect, ())
    after = _worst_value(case, suspect, suspect.removed)
    if not suspect.is_certain and not is_better(before, after, suspect.better, suspect.share):
        return None
    cure, cured = _first_cure(case, suspect, before)
    return Finding(
        what=suspect.what,
        where=suspect.where,
        why=suspect.why,
        figure=suspect.figure,
        proof={"before": before, "after": after, **({"cured": cured} if cure else {})},
        cure=_sentence(cure, suspect.advice),
        set=cure,
        measure=suspect.measure,
    )


def is_better(before: float | None, after: float | None, better: Better, share: float) -> bool:
    """Whether a figure came down to a share of what was wrong with it; None: it never came."""
    if before is None or after is None:
        return before is None and after is not None
    if better == "more":
        return after > before and 1 - after <= share * (1 - before)
    return after < before and share > 0 and after <= share * before


def _worst_value(case: Case, suspect: Suspect, overrides: Overrides) -> float | None:
    return case.worst_value(suspect.figure, (*suspect.drill, *overrides), suspect.better)


def _first_cure(
    case: Case, suspect: Suspect, before: float | None
) -> tuple[Overrides, float | None]:
    """The first cure that makes a sound scenario and helps, and the figure with it."""
    for cure in suspect.cures:
        if not case.is_sound((*suspect.drill, *cure)):
            continue
        cured = _worst_value(case, suspect, cure)
        if is_better(before, cured, suspect.better, suspect.share):
            return cure, cured
    return (), math.nan


def _sentence(cure: Overrides, advice: str) -> str:
    tried = " ".join(f"--set {_quoted(line)}" for line in cure)
    return ": ".join(part for part in (tried, advice) if part)


def _quoted(line: str) -> str:
    """One argument as a shell takes it."""
    return f"'{line}'" if any(letter in line for letter in ' {}[]"#*') else line
