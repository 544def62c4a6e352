"""Quantiles against scipy, and that bytes of results hang on no library's."""

import sys
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special, stats

from radiosim.measure import quantiles
from radiosim.measure.figures import figures_of
from radiosim.measure.quantiles import (
    gamma_chance,
    gamma_quantile,
    normal_quantile,
    student_t_quantile,
)
from radiosim.measure.tally import Pool, Range
from radiosim.results.data import json_of
from radiosim.scenario import parse
from radiosim.study.starts import pool_batch

AS_GOOD = 1e-10
"""Of libraries, whose own quantiles differ by more from version to version."""
KNOWN = (normal_quantile, student_t_quantile, gamma_quantile)


# Percentage points of Student's t, two-sided 5 %: Abramowitz and Stegun, table 26.10, from memory.
@pytest.mark.parametrize(
    ("freedom", "printed"),
    [(1, 12.706), (2, 4.303), (3, 3.182), (10, 2.228), (30, 2.042), (60, 2.0), (120, 1.98)],
)
def test_student_t_as_printed(freedom: int, printed: float) -> None:
    assert student_t_quantile(freedom, 0.975) == pytest.approx(printed, abs=5.1e-4)


@given(st.integers(1, 3_000), st.floats(1e-3, 0.6))
def test_student_t_as_scipy_has_it(freedom: int, miss: float) -> None:
    wanted = float(special.stdtrit(freedom, 1 - miss / 2))

    assert student_t_quantile(freedom, 1 - miss / 2) == pytest.approx(wanted, rel=AS_GOOD)


@given(st.floats(0.1, 1e4), st.floats(1e-3, 1 - 1e-3))
def test_gamma_as_scipy_has_it(shape: float, share: float) -> None:
    found = gamma_quantile(shape, share)

    assert found == pytest.approx(float(special.gammaincinv(shape, share)), rel=AS_GOOD)
    # The chance at what was rounded to twelve digits, not at the quantile itself.
    wanted = float(special.gammainc(shape, found))
    assert gamma_chance(shape, found) == pytest.approx(wanted, rel=AS_GOOD)


@pytest.mark.parametrize("shape", [1e6, 1e8])
def test_many_events_are_as_good(shape: float) -> None:
    wanted = float(special.gammaincinv(shape, 0.975))

    assert gamma_quantile(shape, 0.975) == pytest.approx(wanted, rel=AS_GOOD)


@given(st.floats(1e-4, 1 - 1e-4) | st.sampled_from([0.025, 0.975]))
def test_normal_as_scipy_has_it(share: float) -> None:
    wanted = float(stats.norm.ppf(share))

    assert normal_quantile(share) == pytest.approx(wanted, rel=AS_GOOD, abs=1e-11)


LINK = """
starts = 12
duration_s = 3
radio.profile = "gfsk-1M"
receiver.boot_s = 0
air.loss = 0.3
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 6, acknowledge = false }
failsafe.drive = { timeout_ms = 90 }
"""


@pytest.fixture
def pool() -> Iterator[Pool]:
    """Starts of which each figure that can have an interval has one, and no quantile known yet."""
    _forget()
    scenario = parse(LINK)
    yield pool_batch(scenario, Range(first=0, count=12), range(12), "auto")
    _forget()


def _forget() -> None:
    for quantile in KNOWN:
        quantile.cache_clear()


def test_the_bytes_of_results_hang_on_no_library(
    pool: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "scipy", None)
    monkeypatch.setitem(sys.modules, "scipy.special", None)

    written = json_of(figures_of(parse(LINK), pool))

    assert written.count('_ci95": [') == written.count("_ci95") >= 5


@pytest.mark.parametrize("off", [1 - 1e-14, 1 + 1e-14])
def test_the_last_digits_of_a_logarithm_show_in_no_result(
    pool: Pool, off: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    scenario = parse(LINK)
    usual = json_of(figures_of(scenario, pool))
    kept = quantiles._kept

    _forget()
    monkeypatch.setattr(quantiles, "_kept", lambda value: kept(off * value))
    assert json_of(figures_of(scenario, pool)) == usual

    # What was installed before differed by more than that.
    _forget()
    monkeypatch.setattr(quantiles, "_kept", lambda value: kept((1 + 1e-9) * value))
    assert json_of(figures_of(scenario, pool)) != usual
