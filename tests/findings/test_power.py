"""No cure raises power without local radio rules and the band's limits beside it."""

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.findings import SUSPECTS, diagnosed
from radiosim.findings.case import case_of
from radiosim.radio.band import BAND_MHZ
from radiosim.report.run import run_report
from radiosim.results.document import Origin
from radiosim.results.terminal import plain_text
from radiosim.safety import LOCAL_RULES
from radiosim.scenario import Scenario, parse
from radiosim.scenario.changed import changed
from radiosim.scenario.power import raised_dbm
from radiosim.study.starts import simulate_starts
from tests.examples import examples

FAR = """
starts = 1
duration_s = 4
radio.profile = "{profile}"
transmitter.drive = {{ period_ms = 20, payload_bytes = 6, power_dbm = {power} }}
transmitter.head = {{ period_ms = 23, payload_bytes = 4, retry_delay_us = 1750 }}
failsafe.drive = {{ timeout_ms = 250 }}
receiver.power_dbm = {acknowledging}
air.range = {{ distance_m = {metres}, path = "{path}" }}
"""
POWERS = st.sampled_from([-18, -6, 0, 7, 20])


def far(
    metres: float,
    *,
    profile: str = "gfsk-250k",
    path: str = "free-space",
    power: int = 0,
    acknowledging: int = 0,
) -> Scenario:
    return parse(
        FAR.format(
            metres=metres, profile=profile, path=path, power=power, acknowledging=acknowledging
        )
    )


@pytest.mark.slow
@examples(10)
@given(
    st.floats(50, 20_000),
    st.sampled_from(["gfsk-250k", "gfsk-1M", "gfsk-2M"]),
    st.sampled_from(["free-space", "two-ray"]),
    POWERS,
    POWERS,
)
def test_no_suspect_cures_by_the_power_of_the_receiver(
    metres: float, profile: str, path: str, power: int, acknowledging: int
) -> None:
    scenario = far(metres, profile=profile, path=path, power=power, acknowledging=acknowledging)
    summary = simulate_starts(scenario, workers=1, engine="reference")
    case = case_of(scenario, summary, "reference", None)

    lines = [
        line
        for suspects in SUSPECTS
        for suspect in suspects(case)
        for cure in suspect.cures
        for line in cure
    ]
    assert not [line for line in lines if line.startswith("receiver.power_dbm")]


def test_a_cure_that_raises_power_has_its_caution_on_every_screen() -> None:
    scenario = far(4000)
    summary = diagnosed(scenario, simulate_starts(scenario, workers=1))

    cure = summary.cure
    assert cure is not None
    raised = raised_dbm(scenario, changed(scenario, cure.set))
    assert raised
    assert all(path.startswith("transmitter.") for path in raised)
    told = plain_text(
        run_report(summary, scenario, Origin(command="", seed=1, version="0")), width=10_000
    )
    written = msgspec.json.encode(summary.results()).decode()
    for words in (LOCAL_RULES, f"{BAND_MHZ[0]:g} to {BAND_MHZ[1]:g} MHz"):
        assert words in told[told.index("What to change") : told.index("Assumed")]
        assert words in written


@pytest.mark.slow
@examples(10)
@given(st.floats(1000, 9000), POWERS, POWERS)
def test_any_cure_that_raises_power_has_its_caution(
    metres: float, power: int, acknowledging: int
) -> None:
    scenario = far(metres, power=power, acknowledging=acknowledging)
    summary = diagnosed(scenario, simulate_starts(scenario, workers=1))

    lines = () if summary.cure is None else summary.cure.set
    raised = raised_dbm(scenario, changed(scenario, lines))
    caution = "" if summary.cure is None else summary.cure.caution
    assert (LOCAL_RULES in caution) == bool(raised)
    assert "receiver.power_dbm" not in raised
