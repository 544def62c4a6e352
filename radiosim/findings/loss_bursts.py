"""An air whose losses come in bursts that last longer than the retries (rule C3)."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.suspect import Overrides, Suspect
from radiosim.radio.retry_delay import LONGEST_US
from radiosim.scenario import Scenario

SHARE = 0.8
MOST_RETRIES = 15


def suspects(case: Case) -> Iterator[Suspect]:
    """The stream that waits longest for a value, where the air has bursts."""
    scenario, streams = case.scenario, case.summary.figures.stream
    burst = scenario.air.burst
    if burst is None or burst.loss_bad <= burst.loss_good:
        return
    name = max(streams, key=lambda stream: streams[stream].gap_ms.max)
    figures = streams[name]
    yield Suspect(
        what=f"losses come in bursts, and {name} waits through them",
        where="air.burst",
        why=f"{figures.lost_chance} of {figures.attempts} attempts were lost by chance, most of "
        f"them in bursts of {burst.bad_ms:g} ms on average; up to {figures.gap_ms.max:.0f} ms "
        "without a value",
        figure=f"stream.{name}.gap_ms.max",
        removed=(f"air.burst.loss_bad={burst.loss_good:g}",),
        cures=tuple(_cures(scenario, name)),
        advice="a failsafe timeout must outlast an ordinary burst; what makes the bursts is "
        "worth a search",
        measure="log which frame numbers arrive for an hour, and look for runs of losses",
        share=SHARE,
    )


def _cures(scenario: Scenario, name: str) -> Iterator[Overrides]:
    """More retries, further apart: some outlast the burst."""
    unit = scenario.transmitter[name]
    if unit.acknowledge is True:
        path = f"transmitter.{name}"
        yield (f"{path}.retry_limit={MOST_RETRIES}",)
        yield (f"{path}.retry_limit={MOST_RETRIES}", f"{path}.retry_delay_us={LONGEST_US:g}")
