"""Which fault of the scenario lies behind a gap."""

from radiosim.engine.plan import AIR, RECEIVER, Plan
from radiosim.engine.unit_spans import spans_without
from radiosim.registers.fault_kind import VALUES
from radiosim.registers.fault_register import fault_kind
from radiosim.report.spans import Span, inside
from radiosim.scenario import Scenario
from radiosim.units import ns_from_s


def what_stops(scenario: Scenario, plan: Plan, stream: str, gap: Span) -> tuple[int, str] | None:
    """When the fault that makes up most of a gap of a stream begins, ns, and what it is.

    None if there is no such fault.
    """
    units = {stream: plan.streams.index(stream), RECEIVER: len(plan.tx), AIR: len(plan.tx) + 1}
    found: list[tuple[int, int, str]] = []
    for fault in scenario.fault:
        kind, at_ns = fault_kind(fault.kind), ns_from_s(fault.at_s)
        if fault.unit not in units:
            continue
        steps = [step for step in plan.steps if step.unit == units[fault.unit]]
        for part in set(kind.impairs) - {VALUES}:
            for silent in spans_without((part,), steps, plan.until_ns):
                if silent[0] <= at_ns < silent[1]:
                    lasts = sum(end - start for start, end in inside([silent], [gap]))
                    unit = "the receiver" if fault.unit == RECEIVER else fault.unit
                    found.append((lasts, -at_ns, kind.caption.format(unit=unit)))
    lasts, before, words = max(found, default=(0, 0, ""))
    return (-before, words) if 2 * lasts > gap[1] - gap[0] else None
