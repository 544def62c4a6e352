"""Bit errors as a budget."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.engine.rules.emissions import NEVER_NS
from radiosim.engine.rules.errors import budgets, error_rate, errors_until
from radiosim.scenario import parse

PLAN = make_plan(
    parse(
        """
duration_s = 1
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
air.range.distance_m = 10
interferer.house.kind = "bursts"
interferer.house.channel_mhz = 2468
interferer.house.burst_ms = 0.2
interferer.house.duty = 0.4
interferer.house.power_dbm_at_receiver = -80
"""
    ),
    0,
)
TX, RX = PLAN.tx[0], PLAN.rx
QUIET = RX._replace(emitters=0)
levels = st.floats(-100, -40).map(lambda dbm: 10 ** (dbm / 10))
spans = st.tuples(st.integers(0, 10**8), st.integers(1, 400_000))


def until(rx, level, inside, budget, start, length):  # type: ignore[no-untyped-def]
    quiet = error_rate(rx, level, 0.0)
    return errors_until(rx, True, level, quiet, inside, 0.0, budget, start, start + length)


def test_at_rated_sensitivity_one_bit_in_a_thousand_fails() -> None:
    level_mw = 10 ** (-85 / 10)

    # 1,000 ns are one bit at 1 Mbit/s.
    assert error_rate(QUIET, level_mw, 0.0) * 1_000 == pytest.approx(-math.log1p(-1e-3))


def test_at_the_co_channel_ratio_interference_does_as_much_as_noise_at_sensitivity() -> None:
    strong_mw, beside_mw = 1e-3, 1e-3 / 10**1.2 * RX.own_weight

    assert error_rate(QUIET, strong_mw, beside_mw) * 1_000 == pytest.approx(1e-3, rel=2e-3)


@given(levels, levels, spans, st.floats(1, 1e6))
def test_more_power_or_less_interference_never_makes_more_errors(
    level: float, inside: float, span: tuple[int, int], times: float
) -> None:
    errors, _ = until(RX, level, inside, 1.0, *span)

    assert until(RX, level * times, inside, 1.0, *span)[0] <= errors
    assert until(RX, level, inside / times, 1.0, *span)[0] <= errors
    assert until(QUIET, level, inside, 1.0, *span)[0] <= errors


@given(levels, levels, spans, st.integers(0, 400_000))
def test_a_shorter_frame_never_makes_more_errors(
    level: float, inside: float, span: tuple[int, int], less: int
) -> None:
    start, length = span
    shorter = max(1, length - less)

    assert until(RX, level, inside, 1.0, start, shorter)[0] <= until(
        RX, level, inside, 1.0, start, length
    )[0] * (1 + 1e-12)


@given(levels, levels, spans, st.floats(1e-6, 5))
def test_a_signal_is_spoilt_at_the_instant_at_which_its_budget_is_used_up(
    level: float, inside: float, span: tuple[int, int], budget: float
) -> None:
    start, length = span
    errors, spoilt_ns = until(RX, level, inside, budget, start, length)

    assert (spoilt_ns == NEVER_NS) == (errors < budget)
    if spoilt_ns != NEVER_NS:
        assert start <= spoilt_ns <= start + length
        if spoilt_ns > start:
            before, _ = until(RX, level, inside, budget, start, spoilt_ns - start)
            assert before <= budget * (1 + 1e-9)


def test_budgets_are_exponential_and_belong_to_an_attempt() -> None:
    drawn = [budgets(TX, frame, 1) for frame in range(4_000)]

    # Five standard errors of 4,000 exponential numbers.
    for side in (0, 1):
        mean = sum(pair[side] for pair in drawn) / len(drawn)
        assert mean == pytest.approx(1.0, abs=5 / 4_000**0.5)
    assert budgets(TX, 7, 1) != budgets(TX, 7, 2)
    assert budgets(TX, 7, 1) != budgets(TX._replace(branch=1), 7, 1)
