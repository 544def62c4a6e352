"""Whether a signal survives what overlaps it."""

from hypothesis import given
from hypothesis import strategies as st

from radiosim.radio.interference import survives
from radiosim.units import db_to_ratio

powers_mw = st.floats(1e-9, 1e3)
ratios = st.floats(1.0, 100.0)


def test_alone_it_survives() -> None:
    assert survives(1e-9, 0.0, 16.0)


@given(powers_mw, ratios)
def test_of_equal_powers_none_survives(power_mw: float, ratio: float) -> None:
    assert not survives(power_mw, power_mw, ratio)
    assert not survives(power_mw, power_mw, 1.0)


@given(powers_mw, powers_mw, powers_mw, ratios)
def test_more_power_never_lowers_reception(
    signal_mw: float, others_mw: float, more_mw: float, ratio: float
) -> None:
    assert survives(signal_mw + more_mw, others_mw, ratio) >= survives(signal_mw, others_mw, ratio)
    assert survives(signal_mw, others_mw + more_mw, ratio) <= survives(signal_mw, others_mw, ratio)


def test_the_ratio_is_the_threshold() -> None:
    # PS 5.4 table 9, status M: 12 dB at 1 Mbit/s.
    ratio = db_to_ratio(12.0)

    assert survives(10**1.21, 1.0, ratio)
    assert not survives(10**1.19, 1.0, ratio)
