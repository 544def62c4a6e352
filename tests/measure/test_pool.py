"""Starts pooled: the spread of the worst start stays apart, whoever pools."""

from types import SimpleNamespace
from typing import cast

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.simulate import simulate
from radiosim.engine.stratification import Phases
from radiosim.measure.figures import figures_of, flat, start_figures
from radiosim.measure.intervals import rate_over_starts
from radiosim.measure.start import tally_start
from radiosim.measure.tally import Extreme, FailsafeTally, Pool, Range, StartTally, joined, pool_of
from tests.examples import examples
from tests.traces import scenario_with

SCENARIO_OF_POOL = scenario_with(
    "duration_s=0.5",
    "air.loss=0.3",
    "transmitter.head.period_ms=17",
    "transmitter.drive.offset_ms='drawn'",
)
WAITS, AGES = "stream.drive.gap_ms.max", "output.track.age_ms.p99"


@pytest.fixture(scope="module")
def tallies() -> list[StartTally]:
    return [tally_start(simulate(SCENARIO_OF_POOL, start=start)) for start in range(5)]


def pool(tallies: list[StartTally]) -> list[Pool]:
    starts = Range(first=0, count=len(tallies))
    return [pool_of(t, starts.weight(t), start_figures(SCENARIO_OF_POOL, t)) for t in tallies]


def test_the_spread_kept_apart_is_that_of_the_start_with_the_highest_figure(
    tallies: list[StartTally],
) -> None:
    apart = joined(pool(tallies)).apart
    waits = [tally.streams["drive"].longest_gap_ns for tally in tallies]
    ages = [tally.outputs["track"].age.quantile_ns(0.99) for tally in tallies]

    assert len(set(waits)) > 1
    assert apart[WAITS].start == int(np.argmax(waits))
    assert apart[WAITS].spread is tallies[apart[WAITS].start].streams["drive"].gap
    assert apart[AGES].start == int(np.argmax(ages))
    assert apart[AGES].spread is tallies[apart[AGES].start].outputs["track"].age


def test_it_does_not_matter_how_starts_are_joined(tallies: list[StartTally]) -> None:
    pools = pool(tallies)
    together, parts = joined(pools).apart, (joined(pools[:2]) + joined(pools[2:])).apart

    assert {path: part.start for path, part in parts.items()} == {
        path: entry.start for path, entry in together.items()
    }
    assert all(parts[path].spread is together[path].spread for path in together)


def test_of_equal_values_the_extreme_is_the_first_starts() -> None:
    first, second, later, last = (
        Extreme(low=low, low_start=start, high=high, high_start=start, n=1)
        for start, low, high in ((4, 1.0, 2.0), (5, 1.0, 2.0), (6, 0.5, 3.0), (7, 0.7, 1.0))
    )

    assert first + second == Extreme(low=1.0, low_start=4, high=2.0, high_start=4, n=2)
    worst = Extreme(low=0.5, low_start=6, high=3.0, high_start=6, n=3)
    assert first + second + later == worst
    assert worst + last == msgspec.structs.replace(worst, n=4)


@given(st.lists(st.tuples(st.integers(0, 9), st.floats(0.1, 5.0)), min_size=2, max_size=8))
@examples(30)
def test_rates_and_their_intervals_count_each_start_by_its_weight(
    starts: list[tuple[int, float]],
) -> None:
    scenario = SCENARIO_OF_POOL.replace(**{"failsafe.drive.timeout_ms": 100})
    one = tally_start(simulate(scenario, start=1))
    hours = one.duration_ns / 3.6e12
    pools = []
    for trips, weight in starts:
        timer = FailsafeTally(trips_on_fault=0, nuisance_trips=trips, on_ns=0)
        drive = msgspec.structs.replace(one.streams["drive"], failsafe=timer)
        tally = msgspec.structs.replace(one, streams=one.streams | {"drive": drive})
        pools.append(pool_of(tally, weight, {}))
    counts, weights = zip(*starts, strict=True)

    found = figures_of(scenario, joined(pools)).stream["drive"].failsafe

    assert found is not None
    assert found.nuisance_per_hour == pytest.approx(
        sum(w * n for n, w in starts) / (hours * sum(weights))
    )
    expected = rate_over_starts(counts, [hours] * len(starts), weights)
    assert found.nuisance_per_hour_ci95 == pytest.approx(expected)


def test_of_equal_starts_the_first_is_kept(tallies: list[StartTally]) -> None:
    one = pool(tallies[:1])[0]

    assert (one + one).apart[WAITS].start == 0


def test_a_start_that_counts_thrice_is_pooled_as_three_alike(tallies: list[StartTally]) -> None:
    """Means and percentiles of spans: those of a list in which it stands thrice."""
    weights = (3, 1, 2, 1, 4)
    weighted = joined([pool_of(t, w, {}) for t, w in zip(tallies, weights, strict=True)])
    listed = [t for t, w in zip(tallies, weights, strict=True) for _ in range(w)]
    alike = joined([pool_of(t, 1.0, {}) for t in listed])
    found, expected = (flat(figures_of(SCENARIO_OF_POOL, each)) for each in (weighted, alike))

    of_spans = [path for path in found if path.split(".")[-1] in ("mean", "median", "p95", "p99")]
    assert {path.split(".")[0] for path in of_spans} >= {"stream", "output"}
    for path in of_spans:
        assert found[path] == pytest.approx(expected[path]), path


@pytest.mark.parametrize(
    ("first", "count", "weight"), [(0, 3, 3 / 2), (1, 2, 1.0), (2, 2, 2.0), (3, 6, 3 / 2)]
)
def test_a_start_counts_by_how_many_of_its_own_run_are_placed(
    first: int, count: int, weight: float
) -> None:
    """Every third start, from 0 on, is placed on a beat, which this one cannot be on."""
    phases = Phases(made_for=None, densities=(0.0,))
    start = cast(StartTally, SimpleNamespace(phases=phases))

    assert Range(first=first, count=count).weight(start) == pytest.approx(weight)
