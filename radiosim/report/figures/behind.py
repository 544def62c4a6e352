"""Which fault of the scenario lies behind a gap."""

from radiosim.engine.plan import AIR, RECEIVER, Plan
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
)
from radiosim.report.radio_times import spans_between
from radiosim.report.spans import Span, inside
from radiosim.scenario import Scenario
from radiosim.units import ns_from_s

_SILENT = (
    ((PROGRAM_STOPS, PROGRAM_PAUSES), (PROGRAM_STARTS, PROGRAM_RESUMES)),
    ((RADIO_STOPS,), (RADIO_STARTS,)),
    ((GOES_AWAY,), (COMES_BACK,)),
    ((JAM_BEGINS,), (JAM_ENDS,)),
)
"""Steps from which and to which a unit sends no values."""
_WORDS = {
    "power_off": "{unit} is switched off",
    "reset": "{unit} is reset",
    "brownout": "{unit} browns out",
    "radio_reset": "the radio of {unit} loses its settings",
    "hang": "the program of {unit} hangs",
    "jam": "the air is jammed",
    "out_of_range": "{unit} goes out of range",
}


def what_stops(scenario: Scenario, plan: Plan, stream: str, gap: Span) -> tuple[int, str] | None:
    """When the fault that makes up most of a gap of a stream begins, ns, and what it is.

    None if there is no such fault.
    """
    units = {stream: plan.streams.index(stream), RECEIVER: len(plan.tx), AIR: len(plan.tx) + 1}
    found: list[tuple[int, int, str]] = []
    for fault in scenario.fault:
        if fault.unit not in units or fault.kind not in _WORDS:
            continue
        at_ns = ns_from_s(fault.at_s)
        for begins, ends in _SILENT:
            for silent in spans_between(plan, units[fault.unit], begins, ends):
                if silent[0] <= at_ns < silent[1]:
                    lasts = sum(end - start for start, end in inside([silent], [gap]))
                    unit = "the receiver" if fault.unit == RECEIVER else fault.unit
                    found.append((lasts, -at_ns, _WORDS[fault.kind].format(unit=unit)))
    lasts, before, words = max(found, default=(0, 0, ""))
    return (-before, words) if 2 * lasts > gap[1] - gap[0] else None
