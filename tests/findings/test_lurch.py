"""A lurch is judged over what a stick can do, and not by where it stands at one fault."""

from itertools import product

import pytest

from radiosim.engine.simulate import simulate
from radiosim.findings.case import case_of
from radiosim.findings.examined import examine
from radiosim.findings.failsafe_findings import lurch
from radiosim.measure.start import tally_start
from radiosim.measure.summarise import summary_of
from tests.findings.cases import scenario_with

TIMEOUTS_MS = (60, 250, 500, 1500)
STICKS = (
    'kind="constant",value=0.0',
    'kind="constant",value=1.0',
    'kind="sine",period_s=1.3,amplitude=0.8',
    'kind="sine",period_s=40,amplitude=0.1',
    'kind="steps",values=[0.0,0.7,0.0,-0.4],hold_s=2.5',
)


def lurch_us(timeout_ms: float, stick: str, start: int) -> float | None:
    """How far the motor's pulse is found to jump; the first start of the run is `start`."""
    given = scenario_with(
        f'failsafe.drive={{timeout_ms={timeout_ms},watch_field="count"}}',
        f"transmitter.drive.signals.throttle={{{stick}}}",
        "duration_s=1",
        "starts=1",
    )
    summary = summary_of(given, [tally_start(simulate(given, start=start))])
    (found,) = examine(case_of(given, summary, "auto", None), (lurch,), "alone").proved
    assert found.lines == found.suspect.removed
    assert found.proof.after == 0
    return found.proof.before


@pytest.mark.parametrize("stick", STICKS)
def test_a_lurch_depends_on_no_timeout_no_stick_and_no_start(stick: str) -> None:
    found = {lurch_us(ms, stick, start) for ms, start in product(TIMEOUTS_MS, (0, 17))}

    # From 1500 us to the end of 1000 to 2000, whatever the stick does in the scenario.
    assert found == {500.0}
