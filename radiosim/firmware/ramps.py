"""Levels over time, and those of an output that its program moves by a step a pass (rule G2)."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from radiosim.scenario.structs.output_table import Output
from radiosim.trace import Table
from radiosim.units import NS_PER_US
from radiosim.vehicle.fold.program_state import FAILSAFE, WRITTEN

Times = npt.NDArray[np.int64]
Levels = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A level over time, which changes at instants."""

    at_ns: Times
    level: Levels
    before: float = np.nan
    """Level before the first of them; NaN: none."""


def ramped(told: Table, starts: Times, output: Output) -> Course:
    """The pulses of a servo output with smoothing, ns, one a pass, after its commands.

    It moves in the very pass of a command; at boot, from no pulses and to a value of failsafe it
    goes at once.
    """
    step_ns = output.smoothing_us_per_pass * NS_PER_US
    approaches = (WRITTEN, FAILSAFE) if output.on_failsafe == "hold" else (WRITTEN,)
    first = np.searchsorted(starts, told["at_ns"])
    last = np.append(first[1:], len(starts))
    times, levels, reached = [np.zeros(0, np.int64)], [np.zeros(0)], np.nan
    for row, at_ns in enumerate(told["at_ns"].tolist()):
        level = float(told["level"][row])
        if told["kind"][row] not in approaches or np.isnan(reached) or reached == level:
            times.append(np.array([at_ns]))
            levels.append(np.array([level]))
            reached = level
            continue
        way, sign = abs(level - reached), np.sign(level - reached)
        steps = np.arange(1, min(last[row] - first[row], int(np.ceil(way / step_ns))) + 1)
        times.append(starts[first[row] : first[row] + len(steps)])
        levels.append(reached + sign * np.minimum(steps * step_ns, way))
        reached += float(sign * min((last[row] - first[row]) * step_ns, way))
    return Course(at_ns=np.concatenate(times), level=np.concatenate(levels))
