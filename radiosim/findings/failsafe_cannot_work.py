"""A failsafe timer that is looked at less often than it runs out (rule F2)."""

from collections.abc import Iterator

from radiosim.engine.plan import make_plan
from radiosim.findings.case import FAULT, Case
from radiosim.findings.drills import acting_outputs, drill
from radiosim.findings.suspect import Overrides, Suspect
from radiosim.scenario import Scenario
from radiosim.units import ms_from_ns
from radiosim.vehicle.reaction import longest_pass_ns, with_slowest_clock

ADVICE = "a pass shorter than the timeout (less delay_ms, work or reading), or a longer timeout"


def suspects(case: Case) -> Iterator[Suspect]:
    """Timers whose program passes are longer than their timeout."""
    scenario = case.scenario
    for stream, stopping in case.summary.stopping.items():
        if not stopping.cannot_work or not acting_outputs(scenario, stream):
            continue
        shortened = _short_passes(scenario)
        longer = _longer_timeout(scenario, case.summary.first_start, stream)
        yield Suspect(
            what=f"this failsafe cannot work: {stopping.cannot_work}",
            where=f"failsafe.{stream}.timeout_ms",
            why=f"{stream} switched off for good; from then to the failsafe value, ms",
            figure=FAULT,
            removed=shortened,
            cures=tuple(cure for cure in (shortened, longer) if cure),
            advice=ADVICE,
            measure="toggle a pin once a pass and look at the longest time between two edges",
            drill=drill(scenario, stream, "power_off"),
            is_certain=True,
        )


def _short_passes(scenario: Scenario) -> Overrides:
    """What makes passes short: no waiting, no work, quick reads."""
    receiver = scenario.receiver
    return (
        *(("receiver.delay_ms=0",) if receiver.delay_ms else ()),
        *(("receiver.work=[]",) if receiver.work else ()),
        *(("receiver.loop_ms=1",) if receiver.loop_ms > 1 else ()),
        *(("receiver.spi_overhead_us=10",) if receiver.spi_overhead_us > 10 else ()),
    )


def _longer_timeout(scenario: Scenario, start: int, stream: str) -> Overrides:
    pass_ns = longest_pass_ns(make_plan(with_slowest_clock(scenario), start))
    if pass_ns is None:
        return ()
    return (f"failsafe.{stream}.timeout_ms={2 * ms_from_ns(pass_ns):.0f}",)
