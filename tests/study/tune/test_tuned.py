"""A whole tuning."""

import json
from pathlib import Path

import pytest

from radiosim.results.data import json_of
from radiosim.safety import LOCAL_RULES
from radiosim.scenario import parse
from radiosim.scenario.ask import answered, scenario_text
from radiosim.study.tune.tune_results import Tuned
from radiosim.study.tune.tuned import brought, confirmed, lines_of, tuned
from radiosim.study.tune.varied import grid, parsed
from tests.study.tune.scenarios import ALONE, shipped, two

TWINS = shipped("twin-clocks", "duration_s=20", "starts=3")
PERIODS = [parsed("transmitter.head.period_ms=20,23,40")]


def why_of(found: Tuned) -> str:
    assert found.recommended is not None
    return found.recommended.why


def of_twins() -> Tuned:
    return tuned(TWINS, PERIODS, grid(PERIODS), workers=1)


def test_twin_clocks_are_found_out_and_their_cure_is_recommended_and_confirmed() -> None:
    found = confirmed(of_twins(), shipped("twin-clocks", "starts=6"), workers=1)

    assert not found.as_it_stands.ok
    assert found.as_it_stands.judged.cause == "clocks beat"
    assert {point.values[0]: bool(point.beating) for point in found.points} == {
        20: True,
        23: False,
        40: True,
    }
    assert found.best is not None
    assert found.best.values == (23,)
    assert "RELIES" not in why_of(found)
    assert [(point.values, point.ok) for point in found.confirmed] == [((23,), True)]
    assert found.ok
    assert found.cautions == ()


def test_a_pair_that_beats_is_recommended_only_with_what_it_relies_on() -> None:
    found = tuned(TWINS, PERIODS, [(20.0,)], workers=1)

    assert found.best is not None
    assert "RELIES on the clocks of drive and head" in why_of(found)
    assert found.cautions[-1] == "the clocks of drive and head beat"


def test_of_three_transmitters_alike_every_pair_is_among_the_cautions() -> None:
    transmitter = "transmitter.%s={period_ms=20, payload_bytes=6, acknowledge=false}"
    given = two(*(transmitter % name for name in ("drive", "head", "arm")), "duration_s=1")
    settings = [parsed("transmitter.arm.pipe=3")]
    found = tuned(given, settings, grid(settings), workers=1)

    assert found.cautions[-1] == (
        "the clocks of drive and head, of drive and arm, of head and arm beat"
    )


def test_settings_that_a_scenario_has_already_are_recommended_where_none_are_better() -> None:
    settings = [parsed("transmitter.drive.period_ms=90,95,99")]
    given = parse(ALONE, overrides=("duration_s=2",))
    found = tuned(given, settings, grid(settings), workers=1)

    assert found.best == found.as_it_stands
    assert found.best.values == (20,)
    assert why_of(found).startswith(
        "as it stands is best; of 4 points, with the scenario's own, it keeps"
    )
    # What settings explain is asked of the points alone.
    assert found.influence["transmitter.drive.period_ms"].total is not None


def test_the_scenarios_own_settings_are_chosen_from_once() -> None:
    settings = [parsed("transmitter.drive.period_ms=20,90")]
    found = tuned(parse(ALONE, overrides=("duration_s=2",)), settings, grid(settings), workers=1)

    assert found.recommended is not None
    assert (found.recommended.values, found.recommended.is_own) == ((20,), True)
    assert found.runners_up == ((90,),)
    assert [point.is_own for point in found.points] == [True, False]


def test_a_scenario_without_a_number_for_a_setting_can_be_best_too() -> None:
    settings = [parsed("transmitter.drive.clock_ppm=1,2"), parsed("transmitter.drive.period_ms=95")]
    given = parse(ALONE, overrides=("duration_s=2",))
    found = confirmed(tuned(given, settings, grid(settings), workers=1), given, workers=1)
    told = json.loads(json_of(found))

    assert found.best == found.as_it_stands
    assert lines_of(settings, found.best.values) == ("transmitter.drive.period_ms=20",)
    assert told["recommended"]["values"] == [None, 20]


def test_what_fails_over_the_whole_scenario_is_passed_over() -> None:
    """Where only air time counts, 90 ms is best; the whole scenario asks for short gaps."""
    settings = [parsed("transmitter.drive.period_ms=30,90")]
    asked = "requirement=[{figure='stream.drive.duty_cycle', at_most=0.9}]"
    gaps = "requirement=[{figure='stream.drive.gap_ms.max', at_most=80}]"
    given = parse(ALONE, overrides=(asked, "duration_s=2"))
    found = tuned(given, settings, grid(settings), workers=1)
    tried = confirmed(found, parse(ALONE, overrides=(gaps, "duration_s=2")), workers=1)

    assert [(point.values, point.ok) for point in tried.confirmed] == [
        ((90,), False),
        ((30,), True),
    ]
    assert tried.best is not None
    assert tried.best.values == (30,)
    assert "furthest" not in why_of(tried)
    assert "it comes next, as 1 before it does not hold over the whole scenario" in why_of(tried)


def test_if_nothing_holds_over_the_whole_scenario_the_first_stays_and_is_not_ok() -> None:
    settings = [parsed("transmitter.drive.period_ms=30,90")]
    asked = "requirement=[{figure='stream.drive.gap_ms.max', at_most=%d}]"
    given = parse(ALONE, overrides=(asked % 200, "duration_s=2"))
    found = tuned(given, settings, grid(settings), workers=1)
    whole = parse(ALONE, overrides=(asked % 10, "duration_s=2"))
    tried = confirmed(found, whole, workers=1)

    assert found.best is not None
    assert tried.best == found.best
    assert tried.confirmed[-1].values == found.best.values
    assert not tried.ok
    assert tried.cautions[0].startswith("they miss a requirement")


def test_a_tuning_is_the_same_with_a_journal_that_was_cut_short(tmp_path: Path) -> None:
    settings = [parsed("transmitter.drive.period_ms=10:40:5")]
    given, points = two("duration_s=1"), grid([parsed("a=10:40:5")])
    whole = tuned(given, settings, points, journal=tmp_path / "whole", workers=1)
    kept = (tmp_path / "whole").read_bytes()
    cut = tmp_path / "cut"
    cut.write_bytes(kept[: len(kept) // 2])
    again = tuned(given, settings, points, journal=cut, workers=2)

    assert repr(again) == repr(whole)


@pytest.mark.parametrize("workers", [1, 2])
def test_points_and_the_scenario_as_it_stands_count_as_progress(workers: int) -> None:
    seen: list[tuple[int, int]] = []
    settings = [parsed("transmitter.drive.period_ms=10,20,30")]
    tuned(
        two("duration_s=1"),
        settings,
        grid(settings),
        workers=workers,
        on_progress=lambda done, total: seen.append((done, total)),
    )

    assert seen == [(k, 4) for k in range(5)]


def test_a_new_scenario_is_recommended_no_slow_camera() -> None:
    asked = scenario_text(answered({"every-ms": "drive 20, head 23"}))
    made = parse(asked, overrides=("starts=2", "duration_s=20", "fault[0].at_s=10"))
    periods = [parsed("transmitter.head.period_ms=23,46,92")]
    found = tuned(made, periods, grid(periods), workers=1)

    assert found.best is not None
    assert (found.best.values, found.best.ok) == ((23,), True)
    # A slower one would hold as well.
    assert [point.ok for point in found.points if point.values == (46,)] == [True]


SHORT = "transmitter.head.period_ms=8"
MANY = "transmitter.head.retry_limit=15"


def test_a_period_that_its_retries_do_not_fit_is_brought() -> None:
    (text,) = brought(two(), (SHORT, MANY))

    assert text.startswith("transmitter.head.period_ms: 8 is shorter than a frame with all its")


def test_what_the_scenario_is_warned_of_anyway_is_not() -> None:
    assert brought(two(SHORT, MANY), ("transmitter.drive.period_ms=21",)) == ()


def test_no_change_brings_nothing() -> None:
    assert brought(two(SHORT, MANY), ()) == ()


@pytest.mark.parametrize(("power_dbm", "is_more"), [(-6, False), (0, False), (1, True), (20, True)])
def test_settings_that_raise_power_bring_its_caution(power_dbm: int, is_more: bool) -> None:
    warnings = brought(two(), (f"transmitter.drive.power_dbm={power_dbm}",))

    assert any(LOCAL_RULES in text for text in warnings) == is_more
