"""Starts pooled: the spread of the worst start stays apart, whoever pools."""

import numpy as np
import pytest

from radiosim.engine.simulate import simulate
from radiosim.measure.figures import start_figures
from radiosim.measure.start import tally_start
from radiosim.measure.tally import Pool, Range, StartTally, joined, pool_of
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


def test_of_equal_starts_the_first_is_kept(tallies: list[StartTally]) -> None:
    one = pool(tallies[:1])[0]

    assert (one + one).apart[WAITS].start == 0
