"""Estimates of trips that are too rare to be counted."""

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

from radiosim.engine import simulate
from radiosim.engine.plan import make_plan
from radiosim.measure.summary import RareFigures
from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.shipped import shipped_scenario
from radiosim.study.rare import estimate_trips, with_rare
from radiosim.study.rare._climbs import GroupResult, Ladder, run_group
from radiosim.study.rare._estimate import GROUPS, figures_of_groups, group_size, why_not
from radiosim.study.starts import simulate_starts

ONE = """
duration_s = {seconds}
seed = {seed}
radio.profile = "gfsk-1M"
receiver.boot_s = 0
receiver.read = "all"
transmitter.drive = {{ boot_s = 0, period_ms = 20, payload_bytes = 6, acknowledge = false {keys} }}
failsafe.drive = {{ timeout_ms = {timeout_ms} }}
air.loss = {loss}
"""
DEEP = "radio.fifo_frames=40"
LADDER = Ladder(levels_ns=(49_500_000,), copies=(40,))


def one(
    *, loss: float = 0.2, timeout_ms: float = 70, keys: str = "", seconds: float = 5, seed: int = 1
) -> Scenario:
    """A plain stream on its own."""
    keys = f", {keys}" if keys else ""
    return parse(
        ONE.format(loss=loss, timeout_ms=timeout_ms, keys=keys, seconds=seconds, seed=seed)
    )


def twin_clocks(*overrides: str) -> Scenario:
    """Two plain streams whose clocks drift into each other."""
    given = shipped_scenario("twin-clocks")
    assert given is not None
    return load(given.path, overrides)


@pytest.mark.slow
def test_small_estimates_are_right_on_average() -> None:
    given = one(seconds=4)
    groups = [run_group(given, "drive", LADDER, range(k, k + 1), (1.0,)) for k in range(400)]
    trips = [group.reached[-1] for group in groups]
    counted = simulate_starts(given, first=1_000, count=400).figures.stream["drive"].failsafe
    assert counted is not None
    mean = sum(trips) / 400
    error = math.sqrt(sum((t - mean) ** 2 for t in trips) / 400) / 20

    # Each with its own error; four of both together fail one time in 16,000.
    plain = counted.nuisance_trips / 400
    assert abs(mean - plain) < 4 * math.hypot(error, math.sqrt(counted.nuisance_trips) / 400)
    # 0.8 · 0.2³ a frame (facts 8), of 200 frames less those of the boot.
    assert mean == pytest.approx(0.8 * 0.2**3 * 195, abs=4 * error)


def test_weights_of_starts_carry_through() -> None:
    given = twin_clocks("transmitter.head.clock_ppm=0")
    plans = [make_plan(given, k) for k in range(3)]
    ladder = Ladder(levels_ns=(250_000_000,), copies=())
    shares = (2 / 3, 1 / 3)
    groups = [run_group(given, "drive", ladder, range(k, k + 1), shares) for k in range(3)]

    assert plans[0].phases.made_for is not None
    hours = [group.hours * 6 for group in groups]
    assert hours[0] < 1 <= max(hours) <= 1.5


@pytest.fixture(scope="module")
def figures() -> RareFigures:
    return estimate_trips(one(timeout_ms=90), "drive", count=20, workers=1)


@pytest.mark.slow
def test_the_result_does_not_depend_on_who_computes_it(figures: RareFigures) -> None:
    with ThreadPoolExecutor(2) as executor:
        again = estimate_trips(one(timeout_ms=90), "drive", count=20, executor=executor)

    assert again == figures


@pytest.mark.slow
def test_an_estimate_says_how_it_came_about(figures: RareFigures) -> None:
    assert figures.trusted
    assert figures.why == ""
    assert figures.starts == GROUPS
    assert 0 < figures.ancestors <= figures.crossings
    assert figures.levels_ms
    assert all(20 < level < 90 for level in figures.levels_ms)


@pytest.mark.slow
def test_what_hardly_anything_reaches_is_followed_no_further(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("radiosim.study.rare._climbs.NEGLIGIBLE_PER_HOUR", 1.0)
    figures = estimate_trips(one(timeout_ms=250), "drive", count=20, workers=1)

    assert figures.trusted
    assert figures.per_hour is None
    assert isinstance(figures.per_hour_ci95, tuple)
    assert 0.0 == figures.per_hour_ci95[0] < figures.per_hour_ci95[1] < 20.0
    assert max(figures.levels_ms) < 250
    assert "the limit is for going unfed for" in figures.why


def test_where_nothing_is_drawn_no_copy_can_differ() -> None:
    figures = estimate_trips(one(loss=0.0), "drive")

    assert not figures.trusted
    assert figures.per_hour is None
    assert "nothing is drawn" in figures.why


def test_jitter_or_dither_alone_makes_copies_differ() -> None:
    keys = ("", "jitter_ms = 1", "dither_ms = 1")
    still, *drawn = (make_plan(one(loss=0.0, keys=key), 0) for key in keys)

    assert "nothing is drawn" in why_not(still, "")
    assert [why_not(plan, "") for plan in drawn] == ["", ""]


@pytest.mark.slow
def test_clocks_that_hardly_meet_are_not_vouched_for() -> None:
    given = twin_clocks(
        "duration_s=5",
        "air.loss=0.2",
        "failsafe.drive.timeout_ms=90",
        "transmitter.drive.offset_ms=0",
        "transmitter.head.offset_ms=10",
    )
    figures = estimate_trips(given, "drive", workers=1)

    assert not figures.trusted
    assert "beat so rarely" in figures.why


GROUP = GroupResult(
    hours=1.0,
    frames=1e5,
    crossings=30,
    crossing_starts=1,
    reached=(30.0, 0.5),
    origins=(30, 3),
    copies=40,
    beats=(),
)


def test_trips_of_enough_ancestors_are_trusted() -> None:
    figures = figures_of_groups(LADDER, (GROUP,) * 8, 8)

    assert figures.trusted
    assert (figures.per_hour, figures.per_frame) == (0.5, 5e-6)


@pytest.mark.parametrize(
    ("groups", "why"),
    [
        ((replace(GROUP, origins=(30, 1)),) * 8, "descends from 8 crossings of the first level"),
        ((replace(GROUP, reached=(30.0, 500.0)), *(GROUP,) * 7), "a few of 8 groups of starts"),
        ((replace(GROUP, crossing_starts=0, reached=(0.0, 0.0)),) * 8, "only 0 starts ever went"),
        ((replace(GROUP, beats=(math.inf, 0.1)),) * 8, "can have seen 0.8 beats in all"),
        ((replace(GROUP, reached=(30.0, 0.0), origins=(30, 0)),) * 8, "descends from 0"),
    ],
)
def test_an_estimate_on_a_narrow_base_is_not_trusted(
    groups: tuple[GroupResult, ...], why: str
) -> None:
    figures = figures_of_groups(LADDER, groups, 8)

    assert not figures.trusted
    assert why in figures.why


def test_a_ladder_that_ends_early_gives_no_figure() -> None:
    short = replace(LADDER, why_short="of 20,000 copies hardly one went unfed for longer")
    figures = figures_of_groups(short, (GROUP,) * 8, 8)

    assert not figures.trusted
    assert figures.per_hour is None
    assert figures.why == "of 20,000 copies hardly one went unfed for longer"


def test_a_pilot_that_sees_no_way_on_says_where(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("radiosim.study.rare._climbs.COPIES", (50,))
    monkeypatch.setattr("radiosim.study.rare._climbs.MOST_LEVELS", 2)
    figures = estimate_trips(one(timeout_ms=250), "drive", count=20, workers=1)

    assert not figures.trusted
    assert figures.why.startswith("it takes too many levels (at ")
    assert len(figures.levels_ms) == 2


def test_a_stream_without_a_failsafe_has_no_trips() -> None:
    with pytest.raises(ValueError, match="must be a stream with a failsafe, got 'head'"):
        estimate_trips(one(), "head")


def test_worlds_too_large_are_not_copied() -> None:
    deep = parse(ONE.format(loss=0.2, timeout_ms=70, keys="", seconds=5, seed=1), overrides=(DEEP,))

    assert "too large" in estimate_trips(deep, "drive").why


@pytest.mark.parametrize(
    ("starts", "seconds", "pairs", "size"),
    [(5, 60, 0, 1), (100, 60, 0, 5), (10_000, 300, 0, 6), (20, 600, 1, 3), (40, 300, 15, 2)],
)
def test_groups_hold_starts_of_each_kind_if_there_is_time(
    starts: int, seconds: float, pairs: int, size: int
) -> None:
    assert group_size(one(seconds=seconds), starts, (1.0,) * pairs) == size


def test_without_a_compiler_there_is_no_estimate(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "radiosim.study.rare._estimate.load_fast", lambda: "llvmlite is not installed"
    )

    assert simulate.choose("reference").engine == "reference"
    assert estimate_trips(one(), "drive").why == (
        "it takes the compiled engine: llvmlite is not installed"
    )


def test_the_reference_engine_gives_no_estimate() -> None:
    assert "reference engine" in estimate_trips(one(), "drive", engine="reference").why


def test_trips_that_abound_are_counted_not_split() -> None:
    given = one(loss=0.5, seconds=20)
    summary = simulate_starts(given, count=3)
    failsafe = with_rare(given, summary, workers=1).figures.stream["drive"].failsafe
    assert failsafe is not None
    assert isinstance(failsafe.rare, RareFigures)

    assert failsafe.nuisance_trips > 30
    assert failsafe.rare.per_hour == failsafe.nuisance_per_hour
    assert "were counted" in failsafe.rare.why
    assert failsafe.rare.levels_ms == ()


@pytest.mark.slow
def test_losses_that_hang_together_give_the_rate_that_plain_starts_give() -> None:
    # Clocks beat twice a minute for eight frames: no trip without them, and hardly one by them
    # alone.
    given = twin_clocks("transmitter.head.period_ms=20.04", "air.loss=0.25", "duration_s=60")
    split = estimate_trips(given, "drive", workers=1)
    counted = simulate_starts(given, first=5_000, count=300).figures.stream["drive"].failsafe
    assert counted is not None
    assert split.per_hour is not None
    assert isinstance(split.per_hour_ci95, tuple)
    assert isinstance(counted.nuisance_per_hour_ci95, tuple)

    assert split.trusted
    halves = [
        (high - low) / 2 for low, high in (split.per_hour_ci95, counted.nuisance_per_hour_ci95)
    ]
    # Twice the half width of the difference: fails about one time in 10,000.
    assert abs(split.per_hour - counted.nuisance_per_hour) < 2 * math.hypot(*halves)
