"""Every line of every cure that is tried can be pasted, and set in a radio."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.errors import ScenarioError
from radiosim.findings import SUSPECTS
from radiosim.findings.case import case_of
from radiosim.radio.air_frame import step_of
from radiosim.scenario import Scenario, parse
from radiosim.study.starts import simulate_starts
from tests.examples import examples
from tests.findings.sick import sick_texts

SLOW = st.sampled_from(["", "radio.bit_rate=100000", "radio.profile=gfsk-250k"])
TELEMETRY = st.sampled_from(["", "receiver.acknowledge_payload_bytes=32"])
RANGED = st.sampled_from(["", "air.range={distance_m=900, path='free-space', fading='rician'}"])


def scenario_of(text: str, *overrides: str) -> Scenario | None:
    """The scenario of a text with keys set; None: it is refused."""
    try:
        return parse(text, overrides=overrides)
    except ScenarioError:
        return None


@pytest.mark.slow
@given(sick_texts(), SLOW, TELEMETRY, RANGED)
@examples(15)
def test_every_cure_that_is_tried_is_read_and_is_a_step_of_the_radio(
    text: str, slow: str, telemetry: str, ranged: str
) -> None:
    keys = ["duration_s=5", *(key for key in (slow, telemetry, ranged) if key)]
    scenario = scenario_of(text, *keys)
    if scenario is None:
        return
    case = case_of(scenario, simulate_starts(scenario, count=1, workers=1), "auto", None)
    for family in SUSPECTS:
        for suspect in family(case):
            for cure in suspect.cures:
                assert scenario_of(text, *keys, *cure) is not None, cure
                for line in cure:
                    key, _, value = line.partition("=")
                    assert not key.endswith("retry_delay_us") or step_of(float(value)) is not None
