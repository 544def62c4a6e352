"""When units' programs run, read off the steps of a start."""

from collections.abc import Sequence

from radiosim.engine.plan_rows import (
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    Step,
)


def first_boot_ns(steps: Sequence[Step], unit: int) -> int:
    """When a unit's program first starts; 0 if it never does."""
    starts = (step.at_ns for step in steps if (step.unit, step.kind) == (unit, PROGRAM_STARTS))
    return next(starts, 0)


def shared_ns(steps: Sequence[Step], first: int, second: int, until_ns: int) -> int:
    """For how long the programs of two transmitters run at the same time."""
    running = {first: False, second: False}
    total_ns = since_ns = 0
    for step in (*steps, Step(until_ns, first, PROGRAM_STOPS)):
        if step.unit not in running or step.kind not in _RUNS:
            continue
        if all(running.values()):
            total_ns += step.at_ns - since_ns
        running[step.unit], since_ns = _RUNS[step.kind], step.at_ns
    return total_ns


_RUNS = {
    PROGRAM_STARTS: True,
    PROGRAM_RESUMES: True,
    PROGRAM_STOPS: False,
    PROGRAM_PAUSES: False,
}
