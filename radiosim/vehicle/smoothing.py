"""Outputs that move by at most so much a pass (rule G2)."""

import numpy as np
import numpy.typing as npt

from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import PROGRAM_PAUSES, PROGRAM_RESUMES, PROGRAM_STARTS, PROGRAM_STOPS
from radiosim.engine.rules.passes import pass_from, pass_length
from radiosim.trace import Trace
from radiosim.vehicle.program import agenda_of

Instants = npt.NDArray[np.int64]
Levels = npt.NDArray[np.float64]


def smoothed(
    told_ns: Instants,
    level: Levels,
    is_approached: npt.NDArray[np.bool_],
    *,
    step_ns: float,
    starts: Instants,
    pass_starts: Instants,
) -> Levels:
    """Widths of pulses at `starts`, ns: some levels are approached by `step_ns` a pass.

    The others (start-up, a preset, no pulses) are taken at once. The pass that writes is the
    first to move.
    """
    widths = np.full(len(starts), np.nan)
    bounds = np.searchsorted(starts, told_ns, side="left")
    bounds = np.append(bounds, len(starts))
    passes_before = np.searchsorted(pass_starts, told_ns, side="left")
    at_level = float("nan")
    for j in range(len(told_ns)):
        target = float(level[j])
        mine = starts[bounds[j] : bounds[j + 1]]
        if not is_approached[j] or np.isnan(at_level):
            widths[bounds[j] : bounds[j + 1]] = at_level = target
            continue
        passes = np.searchsorted(pass_starts, mine, side="right") - passes_before[j]
        widths[bounds[j] : bounds[j + 1]] = _approach(at_level, target, passes * step_ns)
        later = passes_before[j + 1] if j + 1 < len(told_ns) else passes_before[j]
        at_level = float(_approach(at_level, target, (later - passes_before[j]) * step_ns))
    return np.round(widths)


def _approach(level: float, target: float, most: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """`level` moved towards `target` by at most `most`."""
    moved: npt.NDArray[np.float64] = level + np.clip(target - level, -np.asarray(most), most)
    return moved


def all_pass_starts(trace: Trace, plan: Plan) -> Instants:
    """Starts of all passes of the receiver's program, idle ones included."""
    starts: list[int] = []
    walk = _Walk(plan, starts)
    for step, row in agenda_of(trace, plan):
        if step is not None:
            walk.until(step.at_ns)
            walk.step(step.at_ns, step.kind)
        elif row is not None:
            walk.until(row[0])
            walk.row(row[0], row[1])
    walk.until(plan.until_ns)
    return np.array(starts, np.int64)


class _Walk:
    """The receiver's passes one by one."""

    def __init__(self, plan: Plan, starts: list[int]) -> None:
        self.rx, self.starts = plan.rx, starts
        self.is_running = False
        self.base_ns = self.previous_ns = self.next_ns = self.paused_ns = 0

    def until(self, at_ns: int) -> None:
        while self.is_running and self.next_ns < at_ns:
            start_ns = self.next_ns
            self.starts.append(start_ns)
            self.next_ns += pass_length(self.rx, self.base_ns, self.previous_ns, start_ns, 0)
            self.previous_ns = start_ns

    def row(self, start_ns: int, next_ns: int) -> None:
        if start_ns >= self.base_ns and (not self.starts or self.starts[-1] < start_ns):
            self.starts.append(start_ns)
        self.previous_ns, self.next_ns = start_ns, next_ns

    def step(self, at_ns: int, kind: int) -> None:
        if kind == PROGRAM_STARTS:
            self.is_running = True
            self.base_ns, self.previous_ns, self.next_ns = at_ns, at_ns - 1, at_ns
        elif kind == PROGRAM_PAUSES:
            _, self.previous_ns, self.next_ns = pass_from(
                self.rx, self.base_ns, self.previous_ns, self.next_ns, at_ns
            )
            self.is_running, self.paused_ns = False, at_ns
        elif kind == PROGRAM_RESUMES:
            self.is_running = True
            self.next_ns += at_ns - self.paused_ns
        else:
            self.is_running = self.is_running and kind != PROGRAM_STOPS
