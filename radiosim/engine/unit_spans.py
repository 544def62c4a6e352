"""When units' programs run and when a unit is impaired, read off the steps of a start."""

from collections.abc import Collection, Sequence

from radiosim.engine.plan_rows import (
    NOT_WELL_AT_FIRST,
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    STEPS,
    Step,
)
from radiosim.registers.fault_kind import PARTS, Part


def first_boot_ns(steps: Sequence[Step], unit: int) -> int:
    """When a unit's program first starts; 0 if it never does."""
    starts = (step.at_ns for step in steps if (step.unit, step.kind) == (unit, PROGRAM_STARTS))
    return next(starts, 0)


def up_ns(steps: Sequence[Step], units: Collection[int], until_ns: int) -> int:
    """From when the programs of some units have all first started to the end of a start.

    All of a start that ends before.
    """
    first_ns = max(first_boot_ns(steps, unit) for unit in units)
    return until_ns - first_ns if first_ns < until_ns else until_ns


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


def impaired_spans(steps: Sequence[Step], until_ns: int) -> tuple[tuple[int, int], ...]:
    """Spans in which one unit is not as it should be, by its own steps (rule F5).

    A reset that is over at once is a span of no length.
    """
    return spans_without(PARTS, steps, until_ns)


def spans_without(
    parts: Collection[Part], steps: Sequence[Step], until_ns: int
) -> tuple[tuple[int, int], ...]:
    """Spans in which one of some parts of a unit is not well, by the unit's own steps."""
    ill = {part for part in parts if part in NOT_WELL_AT_FIRST}
    spans: list[tuple[int, int]] = []
    since_ns = 0
    for step in steps:
        kind, was_well = STEPS[step.kind], not ill
        if kind.part is None or kind.part not in parts:
            continue
        if kind.is_well:
            ill.discard(kind.part)
        else:
            ill.add(kind.part)
        if was_well and ill:
            since_ns = step.at_ns
        elif not was_well and not ill:
            spans.append((since_ns, step.at_ns))
    if ill:
        spans.append((since_ns, until_ns))
    return tuple(spans)
