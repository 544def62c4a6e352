"""From starts to a summary."""

import pytest

from radiosim.engine.simulate import simulate
from radiosim.measure import Summary, summarise, summary_of
from radiosim.measure.figures import flat
from radiosim.measure.start import tally_start
from radiosim.registers.figure_register import figure_paths as known_figures
from tests.traces import scenario_with

SHORT = ("duration_s=0.3", "air.loss=0.1")


def summary(*overrides: str, starts: int = 1) -> Summary:
    scenario = scenario_with(*SHORT, *overrides)
    tallies = [tally_start(simulate(scenario, start=start)) for start in range(3, 3 + starts)]
    return summary_of(scenario, tallies)


def test_one_start_is_named_by_its_number() -> None:
    found = summarise(simulate(scenario_with(*SHORT), start=5))

    assert (found.start, found.starts, found.first_start) == (5, 1, 5)
    assert found.worst == {}
    assert found.engine == "fast"


def test_several_starts_have_worst_ones() -> None:
    found = summary(starts=3)

    assert (found.start, found.starts, found.first_start) == (None, 3, 3)
    assert found.worst["stream.drive.gap_ms.max"].start in (3, 4, 5)
    assert found.worst["stream.drive.gap_ms.max"].value == found.figures.stream["drive"].gap_ms.max


def test_the_same_seed_gives_the_same_summary() -> None:
    assert summary(starts=2) == summary(starts=2)


def test_a_seed_of_its_own_is_reported() -> None:
    assert summarise(simulate(scenario_with(*SHORT), seed=0)).seed == 0


def test_a_summary_is_ok_only_if_every_requirement_was_judged_and_held() -> None:
    always = "requirement=[{figure='air.occupancy', at_most=1.0}]"
    apart = "transmitter.head.period_ms=17"

    assert summary().ok
    assert summary(always, apart).ok
    assert not summary(always).ok, "equal clocks: no run sees them meet"
    assert not summary("requirement=[{figure='air.occupancy', at_most=0.0}]", apart).ok
    assert not summary("requirement=[{figure='worst.drive.reaction_ms', at_most=500}]", apart).ok


def test_a_timeout_shorter_than_the_longest_pass_cannot_work() -> None:
    slow = summary("receiver.loop_ms=150").reaction["drive"]
    stuck = summary("receiver.interrupt=true", "receiver.spi_overhead_us=500").reaction["drive"]

    assert slow.cannot_work == (
        "the longest pass takes 150 ms, longer than the timeout of 100 ms: "
        "the timer may never be seen to run out"
    )
    assert stuck.cannot_work.startswith("reads can hold up a pass without end")
    assert summary().reaction["drive"].cannot_work == ""


def test_a_timer_says_what_it_is_blind_to() -> None:
    plain = summary().reaction["drive"].blind_to
    any_ = summary("failsafe.drive.fed_by='any'").reaction["drive"].blind_to
    careful = summary("failsafe.drive.watch_field='count'", "receiver.watchdog_ms=50")

    assert plain == (
        "a stale transmitter that repeats old values",
        "a hung receiver program (no watchdog)",
    )
    assert any_[0] == "its own transmitter silent while another sends"
    assert careful.reaction["drive"].blind_to == ()


def test_a_stream_without_failsafe_has_neither_timeout_nor_bound() -> None:
    found = summary().reaction["head"]

    assert found.timeout_ms is None
    assert found.bound_ms == {"pan": None}
    assert found.why == {"pan": "its stream has no failsafe"}
    assert found.blind_to == ()


def test_the_terms_are_those_of_the_longest_bound_and_add_up_to_it() -> None:
    found = summary(
        "output.lamp={stream='drive', field='throttle', kind='pin', on_failsafe='off'}"
    ).reaction["drive"]

    track = found.bound_ms["track"]
    assert track is not None
    assert sum(found.terms_ms.values()) == pytest.approx(track)
    assert track > (found.bound_ms["lamp"] or 0)


def test_every_figure_of_a_run_can_be_required() -> None:
    found = summary("output.track.servo={travel_deg=180}")
    known = known_figures(("drive", "head"), ("track", "pan"))

    assert [path for path in flat(found.figures) if path not in known] == []


def test_a_summary_and_a_scenario_are_shown_in_a_line() -> None:
    shown = repr(summary())

    assert shown.startswith("Summary('")
    assert "drive: " in shown
    assert len(shown) < 200
    assert repr(scenario_with()).startswith("Scenario('")


def test_a_motor_stops_a_stop_s_after_its_bound() -> None:
    motor = "output.track.motor={stop_s=0.75}"
    found = summary(motor).reaction["drive"]

    bound_ms = found.bound_ms["track"]
    assert bound_ms is not None
    assert found.stopping_ms == {"track": bound_ms + 750}
