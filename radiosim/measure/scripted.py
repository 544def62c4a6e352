"""Faults of the scenario in a run's figures: whether one came to pass, and whose longest gap it is
in."""

from radiosim.measure.summary import FaultFigures, StreamFigures, Summary
from radiosim.registers.fault_register import fault_kind


def is_reached(summary: Summary, fault: FaultFigures) -> bool:
    """Whether a start lasts long enough for the fault to happen."""
    return fault.at_s < summary.duration_s


def is_for_good(fault: FaultFigures) -> bool:
    """Whether nothing ends the fault."""
    return fault.over_ms is None and fault_kind(fault.kind).is_lasting


def over_at_s(summary: Summary, fault: FaultFigures) -> float:
    """When the fault is over, or the start if that is earlier."""
    if is_for_good(fault):
        return summary.duration_s
    return min(fault.at_s + (fault.over_ms or 0.0) / 1000, summary.duration_s)


def has_no_effect(summary: Summary, fault: FaultFigures) -> bool:
    """Whether its unit did in every start what it would have done without it."""
    return fault.starts_without_effect == summary.starts


def is_cut(summary: Summary, stream: str) -> bool:
    """Whether a fault of the scenario lies in a stream's longest gap."""
    return any(
        _lies_in_gap(summary, summary.figures.stream[stream], fault)
        for fault in summary.figures.faults
        if fault.unit in (stream, "receiver", "air")
        and fault_kind(fault.kind).is_silencing
        and is_reached(summary, fault)
        and not has_no_effect(summary, fault)
    )


def _lies_in_gap(summary: Summary, figures: StreamFigures, fault: FaultFigures) -> bool:
    """Whether the longest gap and the fault overlap.

    Frames left in a FIFO are read after a short fault, so a gap may begin soon after it: not
    later than the gap itself lasts.
    """
    longest_gap_s = figures.gap_ms.max / 1000
    is_late = figures.longest_gap_at_s > over_at_s(summary, fault) + longest_gap_s
    return not is_late and figures.longest_gap_at_s + longest_gap_s >= fault.at_s
