"""A whole tuning."""

import json
from pathlib import Path

import pytest
from hypothesis import given as drawn
from hypothesis import strategies as st

from radiosim.report.tune_sentences import confirmation_sentence, cost_text, left_out_sentences
from radiosim.results.data import json_of
from radiosim.results.formats import duration_text
from radiosim.safety import LOCAL_RULES
from radiosim.scenario import parse
from radiosim.scenario.ask import answered, scenario_text
from radiosim.study.tune.choice import brought, lines_of
from radiosim.study.tune.confirm import confirmed
from radiosim.study.tune.tune_results import Tuned
from radiosim.study.tune.tuned import tuned
from radiosim.study.tune.varied import grid, parsed
from tests.examples import examples
from tests.study.tune.scenarios import ALONE, shipped, two

TWINS = shipped("twin-clocks", "duration_s=20", "starts=3")
PERIODS = [parsed("transmitter.head.period_ms=20,23,40")]


def why_of(found: Tuned) -> str:
    assert found.recommended is not None
    return found.recommended.why


def of_twins() -> Tuned:
    return tuned(TWINS, PERIODS, grid(PERIODS), workers=1)


def test_twin_clocks_are_found_out_and_their_cure_is_recommended_and_confirmed() -> None:
    found = confirmed(of_twins(), TWINS, shipped("twin-clocks", "starts=6"), workers=1)

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
    # 23 ms is seldomer than 20, and nothing else was tried that does not beat.
    assert found.cautions == ("head becomes worse than it was",)


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
    found = confirmed(tuned(given, settings, grid(settings), workers=1), given, given, workers=1)
    told = json.loads(json_of(found))

    assert found.best == found.as_it_stands
    assert lines_of(settings, found.best.values) == ("transmitter.drive.period_ms=20",)
    assert told["recommended"]["values"] == [None, 20]


def test_what_fails_over_the_whole_scenario_is_passed_over() -> None:
    """Where only air time counts, 90 ms is best; the whole scenario asks for short gaps."""
    settings = [parsed("transmitter.drive.period_ms=30,90")]
    asked = (
        "requirement=[{figure='stream.drive.duty_cycle', at_most=0.007}, "
        "{figure='stream.drive.gap_ms.max', at_most=200}]"
    )
    gaps = "requirement=[{figure='stream.drive.gap_ms.max', at_most=80}]"
    given = parse(ALONE, overrides=(asked, "duration_s=2"))
    found = tuned(given, settings, grid(settings), workers=1)
    tried = confirmed(found, given, parse(ALONE, overrides=(gaps, "duration_s=2")), workers=1)

    assert [(point.values, point.ok) for point in tried.confirmed] == [
        ((90,), False),
        ((30,), True),
    ]
    assert tried.best is not None
    assert tried.best.values == (30,)
    assert "furthest" not in why_of(tried)
    assert "it comes next, as 1 before it fails over the whole scenario" in why_of(tried)


def test_if_nothing_holds_over_the_whole_scenario_the_first_stays_and_is_not_ok() -> None:
    settings = [parsed("transmitter.drive.period_ms=30,90")]
    asked = "requirement=[{figure='stream.drive.gap_ms.max', at_most=%d}]"
    given = parse(ALONE, overrides=(asked % 200, "duration_s=2"))
    found = tuned(given, settings, grid(settings), workers=1)
    whole = parse(ALONE, overrides=(asked % 10, "duration_s=2"))
    tried = confirmed(found, given, whole, workers=1)

    assert found.best is not None
    assert tried.best == found.best
    assert tried.confirmed[-1].values == found.best.values
    assert not tried.ok
    assert tried.cautions[0].startswith("they miss a requirement")


@pytest.mark.slow
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


@pytest.mark.parametrize(("read", "ok"), [("one", False), ("all", True)])
def test_a_word_is_recommended_where_it_is_what_holds(read: str, ok: bool) -> None:
    """A pass of 50 ms that reads one frame gets 20 of 50 a second, and the oldest."""
    asked = "requirement=[{figure='stream.drive.age_ms.p99', at_most=150}]"
    given = parse(ALONE, overrides=("receiver.loop_ms=50", "receiver.read='one'", asked))
    settings = [parsed("receiver.read=one,all")]
    found = tuned(given, settings, grid(settings), workers=1)

    assert found.at((read,)).ok == ok
    assert found.best is not None
    assert found.best.values == ("all",)
    assert json.loads(json_of(found))["recommended"]["values"] == ["all"]


@drawn(st.floats(0.1, 3), st.floats(0.1, 3), st.sampled_from([0.5, 1.0, 2.0]))
@examples(40, deadline=None)
def test_a_start_that_is_too_short_for_a_fault_says_so_and_blames_nobody(
    at_s: float, for_s: float, duration_s: float
) -> None:
    fault = f"fault=[{{at_s={at_s}, for_s={for_s}, kind='power_off', unit='drive'}}]"
    noticed = (
        "requirement=[{figure='stream.drive.failsafe.trips_on_fault', at_least=1}, "
        "{figure='stream.drive.gap_ms.p99', at_most=100}]"
    )
    given = parse(ALONE, overrides=(fault, noticed, f"duration_s={duration_s}"))
    settings = [parsed("transmitter.drive.period_ms=15,20")]
    found = tuned(given, settings, grid(settings), workers=1)

    is_seen = at_s < duration_s
    assert bool(found.too_short) == (at_s + for_s >= duration_s)
    assert all(text.startswith("fault[0], power_off of drive") for text in found.too_short)
    assert bool(found.judged_later) != is_seen
    figure = "stream.drive.failsafe.trips_on_fault"
    for point in (found.as_it_stands, *found.points):
        assert (figure in point.judged.measured) == is_seen
        assert is_seen or point.judged.cause != "fault not noticed"


@pytest.mark.parametrize(("power_dbm", "is_more"), [(-6, False), (0, False), (1, True), (20, True)])
def test_settings_that_raise_power_bring_its_caution(power_dbm: int, is_more: bool) -> None:
    warnings = brought(two(), (f"transmitter.drive.power_dbm={power_dbm}",))

    assert any(LOCAL_RULES in text for text in warnings) == is_more


def test_an_age_that_a_scripted_fault_makes_is_told_without_it() -> None:
    off = 'fault=[{ at_s = 4, for_s = 3, kind = "power_off", unit = "drive" }]'
    asked = "requirement=[{figure='stream.drive.gap_ms.max', at_most=250}]"
    given = parse(ALONE, overrides=(off, asked, "duration_s=10"))
    settings = [parsed("transmitter.drive.period_ms=20,25")]
    found = confirmed(tuned(given, settings, grid(settings), workers=1), given, given, workers=1)
    calm = parse(ALONE, overrides=("duration_s=10",))
    alone = confirmed(tuned(calm, settings, grid(settings), workers=1), calm, calm, workers=1)

    assert found.as_it_stands.figures is not None
    assert found.as_it_stands.figures.age_p99_ms is not None
    assert found.as_it_stands.figures.age_p99_ms > 1000
    own = found.without_faults[0]
    assert own.values == found.as_it_stands.values
    # Worst figures of the same starts, drawn alike, that no fault strikes.
    assert alone.as_it_stands.figures is not None
    assert own.age_p99_ms == alone.as_it_stands.figures.age_p99_ms
    assert alone.without_faults == ()
    text = cost_text(found, found.as_it_stands)
    assert f"without them mean {duration_text(own.age_mean_ms)}, p99 " in text
    assert "without them" not in cost_text(alone, alone.as_it_stands)


def test_requirements_that_are_taken_are_judged_without_the_scenarios_own_faults() -> None:
    off = 'fault=[{ at_s = 4, for_s = 3, kind = "power_off", unit = "drive" }]'
    given = parse(ALONE, overrides=(off, "duration_s=10"))
    calm = parse(ALONE, overrides=("duration_s=10",))
    settings = [parsed("transmitter.drive.period_ms=20,25")]
    found, alone = (
        confirmed(tuned(one, settings, grid(settings), workers=1), one, one, workers=1)
        for one in (given, calm)
    )

    assert found.assumed == alone.assumed
    assert found.ok
    assert found.as_it_stands.judged == alone.as_it_stands.judged
    assert found.faults_left_out == ("fault[0], power_off of drive at 4 s",)
    assert alone.faults_left_out == found.too_short == ()
    (said,) = left_out_sentences(found)
    assert "without its own fault (fault[0], power_off of drive at 4 s)" in said
    assert list(left_out_sentences(alone)) == []
    assert "the whole scenario without its faults, 2 starts" in str(
        confirmation_sentence(found, found.confirmed[-1])
    )
