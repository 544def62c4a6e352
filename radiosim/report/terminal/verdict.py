"""One word on a stream: does the vehicle get its values often enough?"""

from radiosim.measure.summary import Summary
from radiosim.report.terminal.parts import worst
from radiosim.scenario import Scenario

PERIODS_WITHOUT_FAILSAFE = 10

RULE = (
    "steady: the longest wait for a value is at most half the failsafe timeout; gaps: up to the "
    "timeout; starves: longer, or failsafe tripped for nothing; cut by fault: longer, but only "
    f"where a fault of the scene may be why. Without a failsafe, {PERIODS_WITHOUT_FAILSAFE} "
    "sampling periods stand for the timeout."
)


def verdict(summary: Summary, scenario: Scenario, stream: str) -> str:
    """steady, gaps, starves or cut by fault (see RULE); silent if nothing was ever read."""
    figures = summary.figures.stream[stream]
    if not figures.read:
        return "silent"
    if figures.failsafe is not None and figures.failsafe.nuisance_trips:
        return "starves"
    hole_ms = worst(summary, f"stream.{stream}.hole_ms", figures.hole_ms)
    limit_ms = _limit_ms(summary, stream)
    if hole_ms is None or limit_ms is None or hole_ms <= limit_ms / 2:
        return "steady"
    if hole_ms <= limit_ms:
        return "gaps"
    concerned = (stream, "receiver", "air")
    is_hit = any(fault.unit in concerned for fault in scenario.fault)
    return "cut by fault" if is_hit else "starves"


def _limit_ms(summary: Summary, stream: str) -> float | None:
    stopping = summary.stopping.get(stream)
    if stopping is not None and stopping.timeout_ms is not None:
        return stopping.timeout_ms
    sampled = summary.figures.stream[stream].sampled
    total_ms = summary.starts * summary.duration_s * 1000
    return PERIODS_WITHOUT_FAILSAFE * total_ms / sampled if sampled else None
