"""Points, margins, ranks and shares of variance."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.scenario import load, parse
from radiosim.scenario.shipped import shipped_scene
from radiosim.study.tune.influence import first_order
from radiosim.study.tune.meetings import pairs_of
from radiosim.study.tune.point import margin_of, with_requirements
from radiosim.study.tune.tuned import tuned
from radiosim.study.tune.varied import VaryError, chosen, grid, parsed, sampled, usual

SCENE = """
duration_s = 5
starts = 2
radio.profile = "gfsk-1M"
air.loss = 0
receiver.read = "all"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
transmitter.look = { period_ms = 23, payload_bytes = 4, retry_delay_us = 1500 }
failsafe.drive = { timeout_ms = 250 }
"""


def test_values_are_read_as_a_grid_or_a_list() -> None:
    assert parsed("a.b=10:20:5").values == (10, 15, 20)
    assert parsed("a.b=0.1:0.3:0.1").values == (0.1, 0.2, 0.3)
    assert parsed("a.b=[1, 2,2]").values == (1, 2)
    assert parsed("a.b=7").line(7) == "a.b=7"


@pytest.mark.parametrize(
    "text", ["a.b", "a=1:2", "a=2:1:1", "a=1:2:0", "a=x", "=1", "a=1:nan:1", "a=0:1e9:0.001"]
)
def test_values_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(VaryError, match="--vary"):
        parsed(text)


def test_periods_and_retries_vary_unless_others_are_asked_for() -> None:
    settings = {it.key: it.values for it in usual(parse(SCENE))}

    assert settings["transmitter.drive.period_ms"][0] == 8
    assert settings["transmitter.drive.period_ms"][-1] == 50
    # An answer of 73 us after a settle time: the first step that is over after it (rule D5).
    assert settings["transmitter.look.retry_delay_us"][:2] == (250, 500)
    assert settings["transmitter.look.retry_limit"] == (0, 1, 2, 3, 5)


def test_a_key_that_is_none_is_refused_before_anything_runs() -> None:
    with pytest.raises(VaryError, match="perid_ms"):
        chosen(parse(SCENE), ["transmitter.drive.perid_ms=1,2"], None)


def test_a_grid_is_every_combination_and_a_sample_is_even() -> None:
    settings = [parsed("a=1,2,3"), parsed("b=5:50:5")]

    assert len(grid(settings)) == 30
    points = sampled([parsed("a=0:99:1")], 100, 3)
    # A Latin hypercube has one point in each of as many equal parts.
    assert sorted(value for (value,) in points) == list(range(100))
    assert sampled(settings, 12, 1) == sampled(settings, 12, 1)


@given(st.floats(0, 1e6), st.floats(1e-3, 1e6))
def test_a_margin_is_not_below_zero_exactly_if_the_limit_holds(
    measured: float, limit: float
) -> None:
    at_most, at_least = margin_of(measured, None, limit), margin_of(measured, limit, None)

    assert at_most is not None
    assert at_least is not None
    assert (at_most >= 0) == (measured <= limit)
    assert (at_least >= 0) == (measured >= limit)


def test_margins_at_a_limit_of_zero() -> None:
    assert margin_of(0.0, None, 0.0) == 1
    assert margin_of(2.0, 0.0, None) == 1
    assert margin_of(3.0, None, 0.0) == -3
    assert margin_of(None, None, 1.0) is None


def test_a_scene_that_asks_for_nothing_is_asked_for_the_usual() -> None:
    scene, said = with_requirements(parse(SCENE))

    assert "stream.drive.hole_ms at most 250" in said
    assert "stream.look.hole_ms at most 200" in said
    assert len(scene.requirement) == len(said)


def test_the_optimum_of_two_settings_is_where_the_closed_form_has_it() -> None:
    """Alone on a clean channel the hole is the period itself and the delay does not change.

    With a hole of at most 100 ms the margin is 1 − period/100: the shortest period wins, and of
    equal margins the one with less air time, which here is the smaller payload.
    """
    alone = parse(
        SCENE.replace("transmitter.look", "#").replace("payload_bytes = 6", "payload_bytes = 6")
        + '[[requirement]]\nfigure = "stream.drive.hole_ms"\nat_most = 100\n'
    )
    settings = [
        parsed("transmitter.drive.period_ms=10,20,40"),
        parsed("transmitter.drive.payload_bytes=2,20"),
    ]
    found = tuned(alone, settings, grid(settings), workers=1)

    assert found.best is not None
    assert found.best.values == (10, 2)
    for it in found.points:
        assert it.margin == pytest.approx(1 - it.values[0] / 100, abs=0.012)
    assert found.influence["transmitter.drive.period_ms"] > 0.95
    assert found.influence["transmitter.drive.payload_bytes"] < 0.05


def test_twin_clocks_is_found_out_and_its_cure_recommended() -> None:
    shipped = shipped_scene("twin-clocks")
    assert shipped is not None
    scene = load(shipped.path, ["duration_s=20", "starts=3"])
    settings = [parsed("transmitter.look.period_ms=20,23,40")]
    found = tuned(scene, settings, grid(settings), workers=1)

    assert {it.values[0]: it.is_near for it in found.points} == {20: True, 23: False, 40: True}
    assert found.best is not None
    assert found.best.values == (23,)
    assert "RELIES" not in found.why
    only = tuned(scene, settings, [(20.0,)], workers=1)
    assert only.best is not None
    assert "RELIES on the clocks of drive and look" in only.why or not only.best.ok


def test_pairs_know_their_spells() -> None:
    """Facts 5: 20 ms, 120 ppm apart, a + b = 329 us: 137 frames, every 166.7 s."""
    shipped = shipped_scene("twin-clocks")
    assert shipped is not None
    from radiosim.engine.plan import make_plan

    plan = make_plan(load(shipped.path), 0)
    (pair,) = pairs_of(plan)
    a, b = plan.tx
    apart = abs(a.ppb - b.ppb) / 1e9
    assert pair.every_s == pytest.approx(0.020 / apart, rel=1e-3)
    assert pair.spell_frames == pytest.approx(pair.window_ms / (20 * apart), rel=1e-3)


def test_points_on_the_front_beat_each_other_in_something() -> None:
    scene = parse(SCENE)
    settings = [
        parsed("transmitter.drive.period_ms=10,20,30"),
        parsed("transmitter.look.period_ms=13,23,37"),
    ]
    found = tuned(scene, settings, grid(settings), workers=1)

    costs = [
        (it.row["latency_p99_ms"], it.row["air_time_share"], it.row["charge_mah_per_hour"])
        for it in found.front
    ]
    assert costs
    for one in costs:
        for other in costs:
            assert one == other or any(x < y for x, y in zip(one, other, strict=True))


def test_shares_of_variance_are_those_of_a_function_that_has_known_ones() -> None:
    """Ishigami's function, a = 7, b = 0.1: first-order indices 0.3139, 0.4424 and 0.

    T. Ishigami, T. Homma, ISUMA 1990; values as restated by A. Saltelli and others, "Global
    Sensitivity Analysis", 2008 (from memory).
    """
    draw = np.random.default_rng(5).uniform(-math.pi, math.pi, (20_000, 3))
    result = (
        np.sin(draw[:, 0])
        + 7 * np.sin(draw[:, 1]) ** 2
        + 0.1 * draw[:, 2] ** 4 * np.sin(draw[:, 0])
    ).tolist()

    found = [first_order(draw[:, k].tolist(), result) for k in range(3)]
    # Sixteen groups of a smooth function leave out a few parts in a hundred.
    assert found == pytest.approx([0.3139, 0.4424, 0.0], abs=0.03)


def test_nothing_explains_what_does_not_vary() -> None:
    assert first_order([1, 2, 3], [5, 5, 5]) == 0
    assert first_order([1, 1, 1, 1], [1, 2, 3, 4]) == 0
