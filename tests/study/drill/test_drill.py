"""What drills find, on scenarios whose faults are known."""

from pathlib import Path

import msgspec
import pytest

from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.shipped import shipped_scenario, shipped_scenarios
from radiosim.study.drill.drill import DrillOptions, drill_failsafe
from radiosim.study.drill.judged import NOT_SET_UP_AGAIN
from radiosim.study.drill.results import Drilled, DrillFigures
from radiosim.study.journal import JournalError
from tests.study.drill.scenarios import BASE, HEAD, TIMER, drilled, only, rare, scenario_with


def of(found: Drilled, fault: str, unit: str, output: str) -> DrillFigures:
    [drill] = [d for d in found.drills if (d.fault, d.unit, d.output) == (fault, unit, output)]
    return drill


def shipped(name: str) -> Scenario:
    found = shipped_scenario(name)
    assert found is not None
    return load(found.path)


def test_a_timer_that_another_stream_feeds_fails_and_the_cause_is_named() -> None:
    found = drilled(shipped("shared-timer"), "power_off", repeats=8)

    off = of(found, "power_off", "drive", "motor")
    assert off.verdict == "fails"
    assert off.still_driven_repeats == off.repeats > 0
    assert off.why == ("another stream (head) feeds drive's timer: failsafe.drive.fed_by is any")
    assert not found.ok


def test_with_all_transmitters_off_nobody_feeds_a_shared_timer() -> None:
    found = drilled(shipped("shared-timer"), "power_off", repeats=8)

    both = of(found, "power_off", "all", "motor")
    assert both.verdict == "holds"
    assert both.bound_ms is not None


def test_the_same_timer_fed_by_its_own_stream_passes() -> None:
    scenario = shipped("shared-timer")
    own = msgspec.structs.replace(scenario.failsafe["drive"], fed_by="own")
    cured = msgspec.structs.replace(scenario, failsafe={**scenario.failsafe, "drive": own})

    assert (
        of(drilled(cured, "power_off", repeats=8), "power_off", "drive", "motor").verdict == "holds"
    )


@pytest.mark.slow
@pytest.mark.parametrize("name", [found.name for found in shipped_scenarios()])
def test_shipped_scenarios_stop_within_their_bounds_or_say_why_not(name: str) -> None:
    found = drilled(shipped(name), repeats=4)

    assert found.touched == ()
    for drill in found.drills:
        assert drill.verdict == "holds" or drill.why
        if drill.bound_ms is not None:
            assert not drill.still_driven
            assert (drill.silence_ms.max or 0) <= drill.bound_ms


def test_a_transmitter_that_is_off_stops_its_own_outputs_alone() -> None:
    found = drilled(scenario_with(TIMER + HEAD), "power_off")

    assert {d.output for d in found.drills if d.unit == "drive"} == {"motor"}
    assert [(other.repeats, other.trips) for other in found.others] == [(32, 0), (32, 0)]
    assert found.ok


def test_a_hung_receiver_without_a_watchdog_is_still_driven() -> None:
    hung = of(drilled(scenario_with(), "hang"), "hang", "receiver", "motor")

    assert (hung.verdict, hung.still_driven, hung.bound_ms) == ("fails", True, None)
    assert "no watchdog" in hung.why


def test_a_watchdog_stops_a_hung_receiver_in_its_time() -> None:
    found = drilled(scenario_with(TIMER + "[receiver]\nwatchdog_ms = 200\nboot_s = 0.5\n"), "hang")

    hung = of(found, "hang", "receiver", "motor")
    assert hung.verdict == "holds"
    assert hung.reaction_ms.max == pytest.approx(200, abs=3)


def test_a_transmitter_that_repeats_itself_trips_only_a_timer_that_watches_a_field() -> None:
    blind = of(drilled(scenario_with(), "stale"), "stale", "drive", "motor")
    watching = drilled(scenario_with(TIMER + 'watch_field = "count"\n'), "stale")

    assert (blind.verdict, blind.bound_ms) == ("fails", None)
    assert "watch_field" in blind.why
    assert of(watching, "stale", "drive", "motor").verdict == "holds"


def test_a_transmitter_that_is_back_before_the_timeout_stops_nothing() -> None:
    given = scenario_with(TIMER, "transmitter.drive.boot_s=0.1")
    reset = of(drilled(given, "reset"), "reset", "drive", "motor")

    assert (reset.verdict, reset.reaction_ms.n) == ("short", 0)
    assert reset.recovered_ms.n > 0


def test_a_transmitter_that_boots_for_longer_than_the_timeout_does() -> None:
    slow = scenario_with(TIMER).transmitter["drive"]
    booting = msgspec.structs.replace(
        scenario_with(TIMER), transmitter={"drive": msgspec.structs.replace(slow, boot_s=2.0)}
    )
    reset = of(drilled(booting, "reset"), "reset", "drive", "motor")

    assert reset.verdict == "holds"
    assert reset.reaction_ms.n == reset.repeats
    assert reset.recovered_ms.median is not None
    assert reset.recovered_ms.median > 2000


def test_a_radio_that_nothing_sets_up_again_never_comes_back() -> None:
    lost = of(drilled(scenario_with(), "radio_reset"), "radio_reset", "receiver", "motor")
    found = drilled(scenario_with(TIMER + "[receiver]\nrecheck_ms = 700\n"), "radio_reset")
    checked = of(found, "radio_reset", "receiver", "motor")

    assert lost.unrecovered == lost.repeats > 0
    assert checked.unrecovered == 0
    assert checked.verdict == "holds"


def test_frames_that_end_failsafe_are_waited_for_between_faults() -> None:
    found = drilled(rare(), "power_off", "hang", "jam", "radio_reset", repeats=4)

    assert found.untried == ()
    assert {(d.fault, d.why_unrecovered) for d in found.drills if d.unrecovered} == {
        ("radio_reset", NOT_SET_UP_AGAIN)
    }
    assert of(found, "power_off", "drive", "motor").recovered_ms.n == 4


def test_what_is_not_back_before_the_next_fault_is_not_blamed_on_the_radio(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("radiosim.study.drill.points.ROOM_FOR_LOSS", 0)
    drill_options = DrillOptions(repeats=4, skip=only("power_off"), hours=0.02, workers=1)
    off = of(drill_failsafe(rare(), drill_options), "power_off", "drive", "motor")

    assert off.unrecovered == off.repeats > 0
    assert off.why_unrecovered == "no fresh value came before the next fault"


def test_an_output_whose_stream_has_no_failsafe_fails_for_nobody_chose_that() -> None:
    found = drilled(scenario_with(""), "power_off")

    off = of(found, "power_off", "drive", "motor")
    assert (off.verdict, off.bound_ms, off.why) == ("fails", None, "its stream has no failsafe")
    assert found.trade_off == {}
    assert not found.ok


def test_the_way_is_that_of_what_stands_still_last() -> None:
    # The camera's servo has its value later; the fan, of the same stream, runs on for longer.
    fan = """
[output.fan]
stream = "drive"
field = "pull"
kind = "pin"
on_failsafe = "off"
motor = { stop_s = 3.0 }
"""
    found = drilled(scenario_with(TIMER + fan), "power_off", repeats=8)

    worst = found.worst["drive"]
    assert (worst.output, worst.last_output) == ("motor", "fan")
    assert worst.stopping_ms == of(found, "power_off", "drive", "fan").stopping_ms.max
    assert worst.stopping_ms > (worst.reaction_ms or 0) + 2000


def test_a_slow_servo_is_watched_until_it_stands() -> None:
    servo = """
[output.arm]
stream = "drive"
field = "pull"
on_failsafe = { preset_us = 2000 }
servo = { travel_deg = 180, over_us = [1000, 2000], seconds_per_60deg = SLOW }
"""
    quick, slow = (
        of(
            drilled(scenario_with(TIMER + servo.replace("SLOW", slow)), "power_off", repeats=8),
            "power_off",
            "drive",
            "arm",
        ).stopping_ms.max
        for slow in ("0.1", "2.0")
    )

    assert quick is not None
    assert slow is not None
    assert slow > quick + 1000


def test_an_output_that_never_comes_alive_was_not_tried() -> None:
    found = drilled(deaf(), "power_off", repeats=8)

    off = of(found, "power_off", "drive", "motor")
    assert (off.verdict, off.repeats) == ("untried", 0)
    assert not found.ok
    assert found.worst == {}


@pytest.mark.parametrize(("hours", "takes_s"), [(0.02, 360), (0.2, 720), (0.6, 2400), (1, 3600)])
def test_a_trade_takes_the_time_asked_for_but_never_less_than_the_scenario(
    hours: float, takes_s: float
) -> None:
    found = drilled(scenario_with(), "reset", repeats=4, hours=hours)

    assert found.trade_off_s == pytest.approx(takes_s)
    assert found.asked.hours == hours


def test_an_output_that_was_never_alive_did_not_go_on() -> None:
    found = drilled(deaf(TIMER + HEAD), "power_off", repeats=4)

    assert {other.output for other in found.untried_others} == {"motor", "pan"}


def deaf(more: str = TIMER) -> Scenario:
    """A scenario in which nothing ever arrives."""
    scenario = scenario_with(more)
    return msgspec.structs.replace(scenario, air=msgspec.structs.replace(scenario.air, loss=1.0))


def test_a_stick_that_is_never_near_neutral_is_told_and_not_waited_for() -> None:
    stuck = 'resume_needs = { field = "count", within = 0 }\n'
    scenario = parse(
        BASE.replace(
            'signals.count = { kind = "counter" }',
            'signals.count = { kind = "constant", value = 200 }',
        )
        + TIMER
        + stuck
    )

    found = drilled(scenario, "power_off", repeats=8)
    assert found.ok
    assert found.notes[0].startswith("drive NEVER COMES ALIVE in this scenario: count is never")


def test_a_motor_stands_still_its_own_time_after_its_stop() -> None:
    motor = "[output.fan]\nstream = 'drive'\nfield = 'pull'\nmotor = { stop_s = 0.4 }\n"
    found = drilled(
        scenario_with(TIMER + motor + "on_failsafe = { preset_us = 1000 }\n"), "power_off"
    )

    fan = of(found, "power_off", "drive", "fan")
    assert fan.stopping_ms.max == pytest.approx((fan.reaction_ms.max or 0) + 400)


def test_a_requirement_on_the_worst_stop_is_judged() -> None:
    asked = '[[requirement]]\nfigure = "worst.drive.reaction_ms"\nat_most = {}\n'

    [strict] = drilled(scenario_with(TIMER + asked.format(260)), "power_off").requirements
    [kind] = drilled(scenario_with(TIMER + asked.format(280)), "power_off").requirements

    assert (strict.ok, kind.ok) == (False, True)
    assert "motor at power_off drive" in strict.why
    assert kind.measured == strict.measured


def test_a_stop_that_never_comes_breaks_its_requirement() -> None:
    asked = '[[requirement]]\nfigure = "worst.drive.reaction_ms"\nat_most = 5000\n'

    [found] = drilled(scenario_with(TIMER + asked), "stale").requirements

    assert (found.ok, found.measured) == (False, None)


@pytest.mark.slow
def test_the_number_of_processes_does_not_change_the_result() -> None:
    drill_options = {"repeats": 16, "skip": ("stale", "jam", "reset", "brownout"), "hours": 0.1}
    alone = drill_failsafe(scenario_with(TIMER + HEAD), DrillOptions(workers=1, **drill_options))
    together = drill_failsafe(scenario_with(TIMER + HEAD), DrillOptions(workers=2, **drill_options))

    assert alone == together


def test_a_drill_that_was_stopped_ends_as_if_it_had_not_been(tmp_path: Path) -> None:
    asked = DrillOptions(
        repeats=16, skip=("stale", "jam", "reset", "brownout"), hours=0.1, workers=1
    )

    def stop(done: int, _: int) -> None:
        if done == 5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        drill_failsafe(scenario_with(TIMER), asked, journal=tmp_path / "j", on_progress=stop)
    counted: list[int] = []
    found = drill_failsafe(
        scenario_with(TIMER),
        asked,
        journal=tmp_path / "j",
        on_progress=lambda done, _: counted.append(done),
    )

    assert counted[0] == 5
    assert found == drill_failsafe(scenario_with(TIMER), asked)


def test_the_journal_of_another_drill_is_refused(tmp_path: Path) -> None:
    asked = DrillOptions(repeats=4, skip=only("power_off"), hours=0.02, workers=1)
    drill_failsafe(scenario_with(TIMER), asked, journal=tmp_path / "j")

    with pytest.raises(JournalError, match="must be this study's journal"):
        drill_failsafe(scenario_with(TIMER + HEAD), asked, journal=tmp_path / "j")


def test_fewer_than_one_repeat_is_refused() -> None:
    with pytest.raises(ValueError, match="repeats must be >= 1, got 0"):
        drill_failsafe(scenario_with(), DrillOptions(repeats=0))


def test_motors_come_before_what_looks_in_drills_streams_and_units() -> None:
    swapped = BASE.replace("[output.motor]", "[output.camera]") + HEAD.replace(
        "[output.pan]", "[output.track]"
    )
    found = drilled(parse(swapped + TIMER), "power_off", "hang", repeats=8)

    assert [drill.unit for drill in found.drills if drill.fault == "power_off"] == [
        *("head", "drive", "all", "all")
    ]
    assert [drill.output for drill in found.drills if drill.unit == "receiver"] == [
        *("track", "camera")
    ]
    assert list(found.bound) == list(found.worst) == list(found.trade_off) == ["head", "drive"]
