"""A stream that loses frames because its signal is too weak where it arrives (rule C3)."""

from collections.abc import Iterator

from radiosim.engine.plan_air import farthest_m, level_dbm
from radiosim.findings.case import Case
from radiosim.findings.suspect import Overrides, Suspect
from radiosim.scenario import Scenario

NOTABLE = 0.02
"""Share of attempts lost out of range from which on it is told."""
NEAR_M = 1.0
USUAL_LIMIT_DBM = 20.0


def suspects(case: Case) -> Iterator[Suspect]:
    """Streams of which a notable share of attempts is out of range."""
    scenario = case.scenario
    if scenario.air.range is None:
        return
    for name in scenario.transmitter:
        figures = case.summary.figures.stream[name]
        if figures.lost_range < NOTABLE * max(1, figures.attempts):
            continue
        far_m = farthest_m(scenario, name)
        margin_db = level_dbm(scenario, name, far_m) - scenario.profile().sensitivity_dbm
        side = "above" if margin_db >= 0 else "below"
        yield Suspect(
            what=f"{name} is too weak where it arrives",
            where=f"transmitter.{name}.power_dbm",
            why=f"{figures.lost_range} of {figures.attempts} attempts were out of range; at "
            f"{far_m:.0f} m the level is {abs(margin_db):.0f} dB {side} what the receiver needs, "
            "before fading and shadowing",
            figure=f"stream.{name}.lost_range",
            removed=(f"transmitter.{name}.place={{distance_m={NEAR_M:g}}}",),
            cures=tuple(_cures(scenario, name)),
            advice="antennas higher and clear of bodies and metal come first: they cost nothing",
            measure=f"count {name}'s frames at the far end, then with the antennas held higher",
        )


def _cures(scenario: Scenario, name: str) -> Iterator[Overrides]:
    """What gives the link more decibels, the cheapest first."""
    air, unit = scenario.air.range, scenario.transmitter[name]
    if scenario.radio.profile != "gfsk-250k":
        slowest = ["radio.profile=gfsk-250k"]
        slowest += [
            f"transmitter.{other}.retry_delay_us={max(1000, it.retry_delay_us):g}"
            for other, it in scenario.transmitter.items()
            if it.acknowledge is True
        ]
        yield tuple(slowest)
    if air is not None and air.path == "two-ray":
        yield (f"air.range.receiver_height_m={3 * air.receiver_height_m:g}",)
    if unit.power_dbm < USUAL_LIMIT_DBM:
        louder = f"transmitter.{name}.power_dbm={USUAL_LIMIT_DBM:g}"
        yield (louder, f"receiver.power_dbm={max(USUAL_LIMIT_DBM, scenario.receiver.power_dbm):g}")
