"""Crossings that a group does not keep count all the same."""

from collections import Counter
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, cast

import pytest
from scipy import stats

from radiosim.chance import key_of
from radiosim.engine.plan import make_plan
from radiosim.engine.stratification import shares_of, weight_of
from radiosim.study.rare._climbs import Crossings, Ladder, climb, run_group
from radiosim.study.rare._watch import Moment, Watch
from tests.study.rare.test_estimate import one, twin_clocks

ROOM, CROSSINGS, STUDIES = 10, 35, 2_000


def moment_of(fed_ns: int, at_ns: int, origin: int, weight: float) -> Any:
    return SimpleNamespace(origin=origin, weight=weight)


WATCH = cast(Watch, SimpleNamespace(moment=moment_of))


def crossed(study: int, weights: list[float]) -> Crossings:
    """What is kept of as many crossings as there are weights."""
    found = Crossings(key=key_of(study, 0, "crossings", "drive"), room=ROOM)
    for weight in weights:
        found.add(WATCH, 0, 1, weight)
    return found


def test_of_more_crossings_than_there_is_room_each_is_as_likely_kept() -> None:
    kept = Counter(
        moment.origin
        for study in range(STUDIES)
        for moment in crossed(study, [1.0] * CROSSINGS).moments
    )

    assert kept.total() == STUDIES * ROOM
    # Drawn without replacement they scatter less than chi-square allows for.
    counts = [kept[origin] for origin in range(1, CROSSINGS + 1)]
    assert stats.chisquare(counts).pvalue > 1e-6


def test_of_more_crossings_than_there_is_room_the_weight_is_that_of_all() -> None:
    weights = [1.5] * 20 + [0.2] * 15
    found = [crossed(study, weights).weight for study in range(STUDIES)]

    error = float(stats.sem(found))
    assert sum(found) / STUDIES == pytest.approx(sum(weights), abs=5 * error)
    assert crossed(0, [0.7] * CROSSINGS).weight == pytest.approx(0.7 * CROSSINGS)


def test_a_group_reaches_its_first_level_as_often_as_it_crosses_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("radiosim.study.rare._climbs.ROOM", ROOM)
    group = run_group(
        one(seconds=20), "drive", Ladder(levels_ns=(49_500_000,), copies=()), range(1), (1.0,)
    )

    assert group.crossings > 2 * ROOM
    assert group.reached[0] == pytest.approx(group.crossings)


def test_starts_that_count_less_reach_less() -> None:
    given = twin_clocks("transmitter.head.clock_ppm=0", "air.loss=0.2", "duration_s=20")
    ladder = Ladder(levels_ns=(50_000_000,), copies=())
    phases = [make_plan(given, k).phases for k in range(6)]
    shares = shares_of(0, 6, len(phases[0].densities))
    weights = [weight_of(each, shares) for each in phases]
    alike = (0.0, *shares[1:])
    alone = [run_group(given, "drive", ladder, range(k, k + 1), alike) for k in range(6)]

    together = run_group(given, "drive", ladder, range(6), shares)

    assert len(set(weights)) > 1
    expected = sum(w * group.reached[0] for w, group in zip(weights, alone, strict=True))
    assert together.reached[0] == pytest.approx(expected)
    assert together.crossings == sum(group.crossings for group in alone)


@dataclass(frozen=True)
class EveryOther:
    """What goes on with every second branch, and trips with every fourth."""

    origin: int
    weight: float = 1.0

    def led_on(self, level_ns: int, branch: int) -> "EveryOther | None":
        return self if branch % 2 == 0 else None

    def trips(self, branch: int) -> bool:
        return branch % 4 == 0


def test_shares_of_levels_multiply() -> None:
    ladder = Ladder(levels_ns=(10, 20, 30), copies=(100, 60, 40))
    moments = cast(list[Moment], [EveryOther(origin) for origin in range(20)])

    shares, origins = climb(ladder, moments, key_of(1, 0, "rare", "drive"))

    assert shares == pytest.approx((1, 1 / 2, 1 / 4, 1 / 16))
    assert origins[0] == 20
    assert all(0 < number <= 20 for number in origins)
