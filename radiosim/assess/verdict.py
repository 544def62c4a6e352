"""One word on a stream: does the vehicle get its values often enough?"""

from typing import Literal

from radiosim.assess.aftermath import has_no_effect, is_reached, over_at_s
from radiosim.measure.summary import FaultFigures, StreamFigures, Summary
from radiosim.registers.fault_register import fault_kind
from radiosim.scenario import Scenario

PERIODS_WITHOUT_FAILSAFE = 10
STARVING_SHARE = 0.5
STEADY_SHARE = 0.9

Verdict = Literal["silent", "starves", "gaps", "cut by fault", "steady"]
VERDICTS: tuple[Verdict, ...] = ("silent", "starves", "gaps", "cut by fault", "steady")
"""The worst first."""

RULES = (
    "silent: nothing was ever read.",
    "starves: a nuisance trip, or less than half of the samples were read, or the longest gap is "
    "longer than the failsafe timeout.",
    "cut by fault: the longest gap is longer than that, but a fault of the scenario lies in it.",
    "gaps: the longest gap is longer than half the timeout, or more than 10 % of the samples were "
    "not read.",
    "steady: none of these.",
    "Time in which the receiver has a fault is not held against a stream's share. Without a "
    f"failsafe, {PERIODS_WITHOUT_FAILSAFE} sampling periods stand for the timeout.",
)


def verdict(summary: Summary, scenario: Scenario, stream: str) -> Verdict:
    """The word on one stream (see RULES)."""
    figures = summary.figures.stream[stream]
    if not figures.read:
        return "silent"
    is_tripped = figures.failsafe is not None and figures.failsafe.nuisance_trips > 0
    if is_tripped or reads_less_than(STARVING_SHARE, summary, stream):
        return "starves"
    limit_ms = limit_of_ms(summary, stream)
    if figures.gap_ms.max > limit_ms:
        return "cut by fault" if _is_cut(summary, scenario, stream) else "starves"
    is_lossy = reads_less_than(STEADY_SHARE, summary, stream)
    return "gaps" if is_lossy or figures.gap_ms.max > limit_ms / 2 else "steady"


def verdicts(summary: Summary, scenario: Scenario) -> dict[str, Verdict]:
    """The word on every stream."""
    return {name: verdict(summary, scenario, name) for name in summary.figures.stream}


def limit_of_ms(summary: Summary, stream: str) -> float:
    """The gap that is too long for a stream: its failsafe timeout, or some of its periods."""
    reaction = summary.reaction.get(stream)
    if reaction is not None and reaction.timeout_ms is not None:
        return reaction.timeout_ms
    total_ms = summary.starts * summary.duration_s * 1000
    return PERIODS_WITHOUT_FAILSAFE * total_ms / summary.figures.stream[stream].sampled


def reads_less_than(share: float, summary: Summary, stream: str) -> bool:
    """Whether a smaller share of the samples was read, faults of the receiver apart."""
    figures = summary.figures.stream[stream]
    down_s = sum(
        over_at_s(summary, fault) - fault.at_s + (fault.recovered_ms or 0.0) / 1000
        for fault in summary.figures.faults
        if fault.unit == "receiver" and is_reached(summary, fault)
    )
    up_share = max(0.0, 1 - down_s / summary.duration_s)
    return figures.read < share * up_share * figures.sampled


def _is_cut(summary: Summary, scenario: Scenario, stream: str) -> bool:
    return any(
        _lies_in_gap(summary, summary.figures.stream[stream], fault)
        for fault in summary.figures.faults
        if fault.unit in (stream, "receiver", "air")
        and fault_kind(fault.kind).is_silencing
        and is_reached(summary, fault)
        and not has_no_effect(summary, scenario, fault)
    )


def _lies_in_gap(summary: Summary, figures: StreamFigures, fault: FaultFigures) -> bool:
    """Whether the longest gap and the fault overlap.

    Frames left in a FIFO are read after a short fault, so a gap may begin soon after it: not
    later than the gap itself lasts.
    """
    longest_gap_s = figures.gap_ms.max / 1000
    is_late = figures.longest_gap_at_s > over_at_s(summary, fault) + longest_gap_s
    return not is_late and figures.longest_gap_at_s + longest_gap_s >= fault.at_s
