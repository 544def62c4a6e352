"""When a unit is not as it should be, read off the steps of a start."""

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
