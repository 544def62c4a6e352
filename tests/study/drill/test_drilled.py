"""Drills of the failsafe: bounds hold, hazards are named, nothing else moves."""

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.shipped import shipped_scene
from radiosim.study.drill.drilled import OutputDrill, drilled, spread
from radiosim.study.drill.faults import drills_of
from radiosim.study.drill.tried import tried

SCENE = """
duration_s = 5
radio.profile = "gfsk-1M"
air.loss = 0
layout.drive.fields = [
  { name = "count", type = "u8" },
  { name = "throttle", type = "i16", scale = 0.001, min = -1.0, max = 1.0 },
]
transmitter.drive = { layout = "drive", period_ms = 17, signals.count = { kind = "counter" } }
transmitter.look = { period_ms = 23, payload_bytes = 4, retry_delay_us = 1500 }
failsafe.drive = { timeout_ms = 200, watch_field = "count" }
failsafe.look = { timeout_ms = 300 }
[output.motor]
stream = "drive"
field = "throttle"
on_failsafe = { preset_us = 1500 }
motor = { stop_s = 0.4 }
[output.pan]
stream = "look"
field = "value"
on_failsafe = { preset_us = 1500 }
[receiver]
pass_ms = 3
read = "all"
watchdog_ms = 100
"""


def rows_of(scene: Scenario, tries: int = 8) -> dict[tuple[str, str], OutputDrill]:
    found = drilled(scene, tries=tries, workers=1)
    return {(row.fault, row.output): row for row in found.drills}


def shipped(name: str) -> Scenario:
    found = shipped_scene(name)
    assert found is not None
    return load(found.path)


@st.composite
def links(draw: st.DrawFn) -> Scenario:
    """Links whose drive stream has a bound."""
    keys = [
        f"receiver.pass_ms={draw(st.sampled_from([0.5, 3, 11]))}",
        f"receiver.read={draw(st.sampled_from(['one', 'all', 'newest']))}",
        f"receiver.interrupt={draw(st.sampled_from(['true', 'false']))}",
        f"failsafe.drive.timeout_ms={draw(st.sampled_from([60, 150, 333]))}",
        f"failsafe.drive.fed_at={draw(st.sampled_from(['read', 'arrival']))}",
        f"output.motor.refresh_hz={draw(st.sampled_from([50, 200]))}",
        f"transmitter.drive.period_ms={draw(st.sampled_from([9, 17, 40]))}",
        f"air.loss={draw(st.sampled_from([0, 0.3]))}",
        f"seed={draw(st.integers(0, 99))}",
    ]
    if draw(st.booleans()):
        keys.append("receiver.work=[{every_ms=40, takes_ms=9}]")
    return parse(SCENE, overrides=keys)


@given(links())
@settings(max_examples=25)
def test_no_drill_is_ever_past_the_bound(scene: Scenario) -> None:
    for row in drilled(scene, tries=4, workers=1).drills:
        if row.bound_ms is not None:
            assert row.alive == 0
            assert row.stop_ms.worst is None or row.stop_ms.worst <= row.bound_ms


def test_drills_come_within_two_percent_of_the_worst_that_can_be() -> None:
    row = rows_of(parse(SCENE), tries=120)["drive switched off", "motor"]

    assert row.reachable_ms is not None
    assert row.stop_ms.worst is not None
    assert 0.98 * row.reachable_ms <= row.stop_ms.worst <= row.reachable_ms


def test_a_motor_stands_still_later_than_its_output_stops() -> None:
    row = rows_of(parse(SCENE))["drive switched off", "motor"]

    assert row.stop_ms.worst is not None
    assert row.standstill_ms.worst == pytest.approx(row.stop_ms.worst + 400)


def test_each_fault_that_the_parts_allow_is_tried() -> None:
    names = {(drill.kind, drill.units) for drill in drills_of(parse(SCENE))}

    assert names == {
        *(("power_off", units) for units in (("drive",), ("look",), ("drive", "look"))),
        *((kind, (unit,)) for kind in ("out_of_range", "frozen", "reset") for unit in UNITS),
        ("jam", ("air",)),
        *((kind, ("receiver",)) for kind in ("radio_reset", "hang", "reset", "brownout")),
    }


UNITS = ("drive", "look")


def test_a_link_with_all_its_guards_fails_only_where_it_has_none() -> None:
    rows = rows_of(parse(SCENE))

    failed = {fault for (fault, _), row in rows.items() if row.is_failed}
    assert failed == {"look frozen: sends old values"}
    assert rows["look frozen: sends old values", "pan"].why.endswith("(no watch_field)")


@pytest.mark.parametrize(
    ("key", "fault", "output", "why"),
    [
        ("failsafe.drive={timeout_ms=200, fed_by='any'}", "drive switched off", "motor", "feeds"),
        ("receiver.watchdog_ms=0", "receiver's program hangs", "motor", "no watchdog"),
        ("failsafe={look={timeout_ms=300}}", "drive switched off", "motor", "no failsafe"),
    ],
)
def test_what_stays_alive_is_named_with_its_cause(
    key: str, fault: str, output: str, why: str
) -> None:
    row = rows_of(parse(SCENE, overrides=[key]))[fault, output]

    assert row.is_failed
    assert row.alive == row.tries > 0
    assert why in row.why


def test_to_hold_is_a_choice_and_no_failure() -> None:
    row = rows_of(parse(SCENE, overrides=["output.pan.on_failsafe=hold"]))[
        "look switched off", "pan"
    ]

    assert row.alive == row.tries
    assert not row.is_failed


def test_a_sender_that_is_off_does_not_touch_the_other_stream() -> None:
    assert drilled(parse(SCENE), tries=6, workers=1).others == ()


def test_a_start_whose_failsafe_was_on_already_is_not_counted() -> None:
    # The receiver hears nothing of drive: its failsafe is on from power-on to the end.
    deaf = parse(SCENE, overrides=["transmitter.drive.payload_length=20", "radio.payload_length=8"])
    row = rows_of(deaf)["drive switched off", "motor"]

    assert (row.tries, row.alive, row.is_failed) == (0, 0, False)


def test_shared_timer_fails_with_the_cause_named() -> None:
    rows = rows_of(shipped("shared-timer"), tries=4)

    row = rows["drive switched off", "motor"]
    assert row.is_failed
    assert row.why == "any other stream feeds its timer"
    assert not rows["look switched off", "pan"].is_failed


def test_workers_make_no_difference() -> None:
    scene = msgspec.structs.replace(parse(SCENE), seed=5)

    assert drilled(scene, tries=3, workers=1) == drilled(scene, tries=3, workers=2)


def test_a_try_is_the_same_each_time_and_its_phase_moves_it() -> None:
    scene, drill = parse(SCENE), drills_of(parse(SCENE))[0]

    once = tried(scene, drill, 2, 0.1, "auto")
    assert once == tried(scene, drill, 2, 0.1, "auto")
    assert once.stop_ns != tried(scene, drill, 2, 0.6, "auto").stop_ns


def test_a_spread_leaves_out_what_never_came() -> None:
    assert spread([3.0, None, 1.0]).worst == 3.0
    assert spread([None]).n == 0
    assert spread([float(n) for n in range(101)]).p99 == 99.0
