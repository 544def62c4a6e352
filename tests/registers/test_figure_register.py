"""The rows of the register of figures, and what checks each figure."""

import ast
from pathlib import Path
from typing import Any

import pytest

from radiosim.measure.figure_rules import RULES
from radiosim.measure.figures import STRUCTS, rows_of
from radiosim.registers.figure import PARTS, TABLES, Figure, Judged, Ruled, Spread, Sum
from radiosim.registers.figure_register import (
    FIGURES,
    by_key,
    figure_at,
    figure_paths,
)
from radiosim.report.glossary.entry import entries

TESTS = Path(__file__).parents[1]
CLOSED = "registers/test_figures_in_closed_form.py::"
SOUND = f"{CLOSED}test_a_sound_link_brings_every_frame_at_its_first_attempt"
IN_VAIN = f"{CLOSED}test_where_nothing_comes_through_every_retry_is_lost"
UNHEARD = f"{CLOSED}test_where_no_acknowledgement_comes_through_retries_are_duplicates"
BUSY = f"{CLOSED}test_a_transmitter_that_is_busy_for_three_periods_skips_replaces_or_queues"
CUT = f"{CLOSED}test_a_power_cut_in_a_frame_ends_its_attempt_and_takes_what_waits"
TOGETHER = f"{CLOSED}test_two_that_always_send_together_lose_every_attempt"
STRUCK = f"{CLOSED}test_a_fault_takes_every_attempt_of_its_half_of_the_run"
SLOW = f"{CLOSED}test_a_slow_program_drops_throws_away_and_leaves_waiting"
ON_AIR = f"{CLOSED}test_the_air_is_taken_by_frames_and_acknowledgements"
TRIPS = f"{CLOSED}test_a_timer_shorter_than_the_period_trips_after_every_frame"
ONE_TRIP = f"{CLOSED}test_a_fault_for_good_is_one_trip_and_failsafe_to_the_end"
FAULT = f"{CLOSED}test_a_fault_is_over_and_reacted_to_when_it_must_be"
SERVO = f"{CLOSED}test_a_servo_at_50_hz_takes_a_fresh_value_a_pulse"
NOISE = f"{CLOSED}test_noise_is_counted_beside_frames_and_is_none_of_them"
HOURS = "measure/test_of_radio.py::test_hours_are_the_cell_over_what_is_drawn"
CHECKED_BY = {
    **dict.fromkeys(
        (
            *("stream.sampled", "stream.sent", "stream.attempts", "stream.acknowledged"),
            *("stream.received_new", "stream.read", "stream.delivery_ratio"),
            *("stream.update_rate_hz", "stream.attempts_per_frame", "stream.gap_ms"),
            "stream.worst_second_updates",
        ),
        SOUND,
    ),
    **dict.fromkeys(
        (
            *("stream.retries_used_up", "stream.lost_chance", "stream.never_accepted"),
            *("stream.longest_gap_at_s", "stream.longest_gap_start"),
        ),
        IN_VAIN,
    ),
    **dict.fromkeys(("stream.duplicates", "stream.acknowledgements_lost"), UNHEARD),
    **dict.fromkeys(("stream.skipped", "stream.replaced", "stream.queue_full"), BUSY),
    **dict.fromkeys(("stream.lost_cut", "stream.power_cut"), CUT),
    **dict.fromkeys(("stream.lost_collision", "air.collisions"), TOGETHER),
    **dict.fromkeys(("stream.lost_range", "stream.lost_off"), STRUCK),
    **dict.fromkeys(("stream.fifo_dropped", "stream.thrown_away", "stream.waiting"), SLOW),
    **dict.fromkeys(("stream.duty_cycle", "air.occupancy"), ON_AIR),
    **dict.fromkeys(
        (
            *("stream.failsafe.nuisance_trips", "stream.failsafe.nuisance_per_hour"),
            "stream.failsafe.starts_with_nuisance",
        ),
        TRIPS,
    ),
    **dict.fromkeys(("stream.failsafe.trips_on_fault", "stream.failsafe.seconds_on"), ONE_TRIP),
    **dict.fromkeys((f"faults.{row.name}" for row in rows_of("faults")), FAULT),
    **dict.fromkeys(("output.refresh_hz", "output.update_rate_hz", "output.latency_ms"), SERVO),
    **dict.fromkeys(("stream.battery_h", "receiver.battery_h"), HOURS),
    "stream.under_way": "measure/test_of_stream.py::"
    "test_a_frame_under_way_behind_one_that_was_read_is_still_under_way",
    "stream.lost_deaf": f"{CLOSED}"
    "test_a_receiver_that_is_deaf_for_half_of_the_time_loses_half_of_the_attempts",
    "stream.latency_ms": "reference/test_age.py::"
    "test_every_frame_is_read_its_delay_after_its_sample",
    "stream.age_ms": "reference/test_age.py::test_mean_age_is_that_of_an_erasure_channel",
    "stream.charge_mah_per_hour": "reference/test_charge.py::"
    "test_charge_of_an_acknowledged_transmitter",
    "receiver.charge_mah_per_hour": "reference/test_charge.py::test_charge_of_a_receiver",
    "receiver.brownouts": "findings/test_supply.py::"
    "test_what_it_says_of_resistance_and_capacitor_holds_in_a_rerun",
    **dict.fromkeys((row.key for row in rows_of("stream.noise")), NOISE),
    "stream.failsafe.rare": "reference/test_rare_runs.py::"
    "test_runs_of_lost_frames_trip_as_often_as_the_formula_says",
    "output.age_ms": "measure/test_of_output.py::test_holding_in_failsafe_is_not_age",
    "output.longest_hold_ms": "measure/test_of_output.py::"
    "test_the_longest_hold_is_that_of_one_fresh_value",
    "output.servo_error_deg": "measure/test_of_output.py::"
    "test_a_servo_that_stands_where_the_hand_points_has_no_error",
    "worst.reaction_ms": "reference/test_drilled_stops.py::"
    "test_drills_come_near_the_worst_and_never_pass_it",
}
"""Figure → the test that compares it with the outside or with what is worked out by hand."""
BOUND = "reference/test_stopping_time.py::test_polled_passes_reach_their_worst_and_never_pass_it"


def checks() -> dict[str, str]:
    judged = {key: BOUND for key, row in FIGURES.items() if key.endswith(".bound_ms")}
    motor = "measure/test_summarise.py::test_a_motor_stops_a_stop_s_after_its_bound"
    judged |= {key: motor for key in FIGURES if key.endswith(".stopping_ms")}
    return CHECKED_BY | judged


def test_every_figure_is_checked_and_its_check_exists() -> None:
    assert set(checks()) == set(FIGURES)
    for named in set(checks().values()):
        path, _, test = named.partition("::")
        functions = ast.walk(ast.parse((TESTS / path).read_text("utf-8")))
        assert test in {f.name for f in functions if isinstance(f, ast.FunctionDef)}, named


ROW: dict[str, Any] = {
    name: getattr(FIGURES["stream.read"], name) for name in Figure.__struct_fields__
}


@pytest.mark.parametrize("name", ROW)
def test_a_row_without_one_of_its_fields_cannot_be_made(name: str) -> None:
    with pytest.raises(TypeError, match=name):
        Figure(**{key: value for key, value in ROW.items() if key != name})


@pytest.mark.parametrize(
    ("changed", "text"),
    [
        ({"meaning": ""}, "a text is empty"),
        ({"measure": ""}, "a text is empty"),
        ({"table": "moon"}, "is of no table"),
        ({"unit": "furlongs"}, "has a unit other than"),
        ({"name": "read_ms"}, "is named as if it were in ms"),
    ],
)
def test_a_row_that_contradicts_itself_cannot_be_made(changed: dict[str, Any], text: str) -> None:
    with pytest.raises(ValueError, match=text):
        Figure(**ROW | changed)


def test_a_figure_has_one_row() -> None:
    with pytest.raises(ValueError, match=r"figure 'stream.read': has two rows"):
        by_key((FIGURES["stream.read"], FIGURES["stream.read"]))


SAID_ELSEWHERE = {
    "failsafe",
    "noise",
    "stream",
    "kind",
    "unit",
    "at_s",
    "for_s",
    "is_bitten",
    "outputs",
    "brownouts_with",
}
"""A table of its own, or what the scenario says."""


def test_structs_and_register_agree_in_both_directions() -> None:
    for table, struct in STRUCTS.items():
        rows = rows_of(table)
        names = {row.key.removeprefix(f"{table}.") for row in rows}
        intervals = {
            f"{row.key.removeprefix(f'{table}.')}_ci95" for row in rows if row.has_interval
        }

        assert set(struct.__struct_fields__) - SAID_ELSEWHERE == names | intervals


def test_every_rule_has_its_row() -> None:
    ruled = {key for key, row in FIGURES.items() if isinstance(row.pool, Ruled)}

    assert ruled == set(RULES)


def test_a_path_finds_its_row_and_part() -> None:
    for path in figure_paths(("drive", "read"), ("pan",)):
        at = figure_at(path)
        assert at is not None
        row, part = at
        assert path.startswith(f"{row.table}.")
        assert path.endswith(f"{row.name}.{part}" if part else row.name)
        assert bool(part) == isinstance(row.pool, Spread)
    for unknown in ("stream.drive.gap_ms.p98", "moon.x", "stream", "stream.drive.read.max", ""):
        assert figure_at(unknown) is None


def test_the_glossary_tells_every_figure_as_its_row_does() -> None:
    told = {entry.path: entry for entry in entries() if entry.what == "figure"}

    for row in FIGURES.values():
        entry = told.pop((*TABLES[row.table], *row.name.split(".")))
        assert (entry.meaning, entry.unit, entry.measure) == (row.meaning, row.unit, row.measure)
        if isinstance(row.pool, Spread):
            for part in PARTS:
                told.pop((*entry.path, part))
    assert told == {}


def test_what_is_not_measured_in_a_start_cannot_be_required_of_it() -> None:
    for row in FIGURES.values():
        if isinstance(row.pool, Judged):
            assert row.can_be_required == (row.table == "worst")
        if isinstance(row.pool, Sum):
            assert row.can_be_required
