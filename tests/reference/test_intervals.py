"""Intervals against printed values, another program, and how often they hold what is true.

Sources: E. B. Wilson, JASA 22 (1927); F. Garwood, Biometrika 28 (1936); ratio over starts: W. G.
Cochran, "Sampling Techniques", 3rd ed., 1977. Printed values were computed with independent
scripts, to the digits shown.

Coverage: many small runs of one scenario, each with its interval of 95 %, against a truth in closed
form. How many hold it is a binomial count, whose lower limit is asked for; an interval that holds
it too often is not narrow, but not wrong.
"""

import functools
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from radiosim.measure.intervals import weighted_poisson, wilson
from radiosim.measure.quantiles import normal_quantile
from radiosim.measure.summary import Summary
from radiosim.scenario import parse
from radiosim.study.starts import simulate_starts
from tests.reference.outside import (
    CHANCE_OF_FAILURE,
    DERIVED_FROM_MEMORY,
    MEMORY,
    SECOND,
    check,
    outside,
)
from tests.reference.runs import UP_AT_ONCE
from tests.reference.sources import COCHRAN, FACTS, FELLER, GARWOOD, LIBRARY, THREE, WILSON


@outside("interval of a share, 10 and 0 of 100", source=WILSON.key, status=DERIVED_FROM_MEMORY)
@pytest.mark.parametrize(
    ("successes", "trials", "end", "printed", "within"),
    [
        (10, 100, 0, 0.05523, 5e-6),
        (10, 100, 1, 0.1744, 5e-5),
        (0, 100, 0, 0.0, 0.0),
        (0, 100, 1, 0.03699, 5e-6),
    ],
)
def test_wilson_gives_the_printed_values(
    successes: int, trials: int, end: int, printed: float, within: float
) -> None:
    check.near(wilson(successes, trials)[end], printed, within=within)


@outside("interval of any share", source=LIBRARY.at("scipy.stats.binomtest"), status=SECOND)
@given(st.integers(1, 5_000), st.data())
def test_wilson_agrees_with_another_program(trials: int, data: st.DataObject) -> None:
    successes = data.draw(st.integers(0, trials))

    theirs = stats.binomtest(successes, trials).proportion_ci(0.95, "wilson")

    check.agree(wilson(successes, trials), (theirs.low, theirs.high), rel=1e-9)


@outside("interval of a count, 0 and 5", source=GARWOOD.key, status=DERIVED_FROM_MEMORY)
@pytest.mark.parametrize(
    ("count", "end", "printed", "within"),
    [(0, 0, 0.0, 0.0), (0, 1, 3.689, 5e-4), (5, 0, 1.623, 5e-4), (5, 1, 11.67, 5e-3)],
)
def test_garwood_gives_the_printed_values(
    count: int, end: int, printed: float, within: float
) -> None:
    check.near(weighted_poisson([count], [1.0], [1.0])[end], printed, within=within)


@outside("interval of any count", source=LIBRARY.at("scipy.stats.chi2"), status=SECOND)
@given(st.integers(0, 2_000))
def test_garwood_agrees_with_another_program(count: int) -> None:
    low = float(stats.chi2.ppf(0.025, 2 * count)) / 2 if count else 0.0
    high = float(stats.chi2.ppf(0.975, 2 * count + 2)) / 2

    check.agree(weighted_poisson([count], [1.0], [1.0]), (low, high), rel=1e-9)


@outside(
    "0.975 quantile of the normal distribution",
    source=LIBRARY.at("scipy.stats.norm"),
    status=SECOND,
)
def test_the_normal_quantile_is_that_of_another_program() -> None:
    check.near(normal_quantile(0.975), float(stats.norm.ppf(0.975)), within=1e-11)


@outside(
    "mean count that no event leaves possible: no less than the rule of three's",
    source=THREE.key,
    status=MEMORY,
)
def test_no_event_leaves_as_much_possible_as_the_rule_of_three() -> None:
    # That rule is one-sided; ours leaves 2.5 % instead of 5 % beyond it.
    check.between(weighted_poisson([0], [1.0], [1.0])[1], 3.0, 3.75, expected=3.0)


RUNS = 100
PLAIN = f"""
radio.profile = "gfsk-250k"
{UP_AT_ONCE}
air.loss = 0
receiver = {{ read = "all", boot_s = 0 }}
[layout.long]
fields = [
  {{ name = "a", type = "u64" }}, {{ name = "b", type = "u64" }}, {{ name = "c", type = "u64" }},
]
[layout.short]
fields = [{{ name = "a", type = "u64" }}]
"""
MEETS_OFTEN = parse(f"""
duration_s = 0.5
{PLAIN}
[transmitter]
mine = {{ boot_s = 0, period_ms = 4, layout = "long", acknowledge = false, clock_ppm = 30 }}
other = {{ boot_s = 0, period_ms = 4, layout = "long", acknowledge = false, clock_ppm = -30 }}
""")
"""A start collides all the time or not at all; half of them do: none needs help to meet."""
MEETS_SELDOM = parse(f"""
duration_s = 1
{PLAIN}
[transmitter]
mine = {{ boot_s = 0, period_ms = 10, layout = "short", acknowledge = false, clock_ppm = 60 }}
other = {{ boot_s = 0, period_ms = 10, layout = "short", acknowledge = false, clock_ppm = -60 }}
""")
"""One ordinary start in eight meets the other; every third start is made to."""
LOSES = parse(f"""
duration_s = 2
radio.profile = "gfsk-2M"
{UP_AT_ONCE}
air.loss = 0.3
receiver.boot_s = 0
receiver.read = "all"
receiver.clock_ppm = 0
failsafe.drive = {{ timeout_ms = 25 }}
layout.drive = {{ fields = [{{ name = "count", type = "u64" }}] }}
[transmitter.drive]
boot_s = 0
layout = "drive"
period_ms = 10
clock_ppm = 0
acknowledge = "flag"
signals.count = {{ kind = "counter" }}
""")


SCENARIOS = {
    "meets often": (MEETS_OFTEN, 12),
    "meets seldom": (MEETS_SELDOM, 24),
    "loses": (LOSES, 8),
}
"""Scenarios and the starts of one run."""


@functools.cache
def runs_of(name: str) -> tuple[Summary, ...]:
    """Many runs of a scenario, each of starts of its own."""
    scenario, starts = SCENARIOS[name]
    return tuple(
        simulate_starts(scenario, first=number * starts, count=starts, workers=1)
        for number in range(RUNS)
    )


def delivery(summary: Summary) -> tuple[float, float]:
    interval = next(iter(summary.figures.stream.values())).delivery_ratio_ci95
    assert isinstance(interval, tuple)
    return interval


def trips(summary: Summary) -> tuple[float, float]:
    failsafe = summary.figures.stream["drive"].failsafe
    assert failsafe is not None
    assert isinstance(failsafe.nuisance_per_hour_ci95, tuple)
    return failsafe.nuisance_per_hour_ci95


@outside(
    "share of intervals of 95 % that hold the true value, over starts",
    source=f"{COCHRAN.at('2.11')}; {FACTS.at('5')}; {FELLER.at('XIII.7')}",
    status=DERIVED_FROM_MEMORY,
    chance=CHANCE_OF_FAILURE / 2,
)
@pytest.mark.parametrize(
    ("name", "interval_of", "truth"),
    [
        pytest.param("meets often", delivery, 1 - 2048 / 4000, marks=pytest.mark.slow),
        pytest.param("meets seldom", delivery, 1 - 1024 / 10_000, marks=pytest.mark.slow),
        pytest.param("loses", delivery, 0.7, marks=pytest.mark.slow),
        pytest.param("loses", trips, 360_000 * 0.7 * 0.3**2, marks=pytest.mark.slow),
    ],
)
def test_intervals_hold_what_is_true_as_often_as_they_say(
    name: str,
    interval_of: Callable[[Summary], tuple[float, float]],
    truth: float,
) -> None:
    intervals = [interval_of(summary) for summary in runs_of(name)]
    held = sum(low <= truth <= high for low, high in intervals)

    least = float(stats.binom(RUNS, 0.95).ppf(CHANCE_OF_FAILURE / 2)) / RUNS
    check.between(held / RUNS, least, 1.0, expected=0.95)
