"""When units' programs run and when a unit is impaired, read off the steps of a start."""

from collections.abc import Sequence

from radiosim.engine.plan_rows import (
    COMES_BACK,
    GOES_AWAY,
    JAM_BEGINS,
    JAM_ENDS,
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    RADIO_STARTS,
    RADIO_STOPS,
    VALUES_FRESH,
    VALUES_STALE,
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


def impaired_spans(steps: Sequence[Step], until_ns: int) -> tuple[tuple[int, int], ...]:
    """Spans in which one unit is not as it should be, by its own steps (rule F5).

    A reset that is over at once is a span of no length.
    """
    program = radio = False
    troubled = {VALUES_STALE: False, GOES_AWAY: False, JAM_BEGINS: False}
    spans: list[tuple[int, int]] = []
    since_ns = 0
    for step in steps:
        was_well = program and radio and not any(troubled.values())
        if step.kind in (PROGRAM_STARTS, PROGRAM_RESUMES):
            program = True
        elif step.kind in (PROGRAM_STOPS, PROGRAM_PAUSES):
            program = False
        elif step.kind in (RADIO_STARTS, RADIO_STOPS):
            radio = step.kind == RADIO_STARTS
        elif step.kind in troubled:
            troubled[step.kind] = True
        elif step.kind in _OVER:
            troubled[_OVER[step.kind]] = False
        is_well = program and radio and not any(troubled.values())
        if was_well and not is_well:
            since_ns = step.at_ns
        elif is_well and not was_well:
            spans.append((since_ns, step.at_ns))
    if not (program and radio and not any(troubled.values())):
        spans.append((since_ns, until_ns))
    return tuple(spans)


_OVER = {VALUES_FRESH: VALUES_STALE, COMES_BACK: GOES_AWAY, JAM_ENDS: JAM_BEGINS}
"""What ends which trouble."""
