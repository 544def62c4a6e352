"""Settings fitted to figures: their intervals hold what clocks make of them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.bench_log.estimates import Estimate
from radiosim.engine.plan import make_plan
from radiosim.scenario import Scenario
from radiosim.study.fit.candidates import candidates
from radiosim.study.fit.figure import Figure, Values, clock_off
from radiosim.study.fit.judged import Judged
from radiosim.study.fit.setting import Setting
from tests.examples import examples
from tests.study.fit.samples import link


def found(
    scenario: Scenario, figure: Figure, simulated: tuple[Values, ...] = ()
) -> dict[str, Setting]:
    """Settings for one figure that did not hold, by what they set."""
    row = Judged(
        key=figure.key,
        of=figure.of,
        what=figure.what,
        unit=figure.unit,
        measured=figure.value,
        low=0.0,
        high=0.0,
        resolution=figure.resolution,
        chance=0.001,
        is_held=False,
    )
    made = candidates(scenario, {figure.key: figure}, [row], lambda _, count: simulated[:count])
    return {setting.keys[0]: setting for setting in made}


@given(
    st.sampled_from(["crystal", "resonator", "internal"]),
    st.sampled_from(["crystal", "resonator", "internal"]),
    st.integers(0, 50),
    st.floats(5, 50),
)
@examples(200)
def test_a_period_holds_that_of_its_own_clock(
    sender: str, reader: str, start: int, period_ms: float
) -> None:
    scenario = link().replace(
        **{
            "transmitter.drive.clock": sender,
            "receiver.clock": reader,
        }
    )
    # Clocks of a start as they are drawn, from model.md, rule T5.
    plan = make_plan(scenario, start)
    measured = period_ms * (1 + plan.tx[0].ppb / 1e9) / (1 + plan.rx.ppb / 1e9)
    figure = Figure(
        key="period.drive",
        of="drive",
        what="period",
        unit="ms",
        resolution=0.0001,
        value=measured,
        estimate=Estimate(value=measured, low=measured - 1e-9, high=measured + 1e-9),
        clock_off=clock_off(scenario.receiver),
    )

    setting = found(scenario, figure)["transmitter.drive.period_ms"]

    assert setting.low is not None
    assert setting.high is not None
    assert setting.low <= period_ms <= setting.high


def test_a_boot_is_known_no_better_than_boots_are_alike() -> None:
    figure = Figure(
        key="boot.receiver",
        of="receiver",
        what="boot",
        unit="ms",
        resolution=0.01,
        value=700.0,
        estimate=Estimate(value=700.0, low=699.999, high=700.001),
    )
    simulated = tuple({"boot.receiver": 100.0 + 0.01 * k} for k in range(-39, 40))

    setting = found(link(), figure, simulated)["receiver.boot_s"]

    assert setting.value == pytest.approx(0.6)
    assert setting.low == pytest.approx(0.6 - 0.00039, abs=2e-6)
    assert setting.high == pytest.approx(0.6 + 0.00039, abs=2e-6)
