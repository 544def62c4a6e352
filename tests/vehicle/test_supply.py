"""The receiver's supply under what outputs draw: worked out by hand, and laws."""

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from msgspec.structs import replace

from radiosim.engine.jit import blank
from radiosim.engine.plan import make_plan, plan_of, with_brownouts
from radiosim.engine.plan_rows import PROGRAM_STARTS, PROGRAM_STOPS
from radiosim.scenario import Scenario, parse
from radiosim.scenario.structs.supply_tables import MOST_LOADS
from radiosim.trace import ROWS, Trace
from radiosim.vehicle import feedback
from radiosim.vehicle.feedback import brownouts_of, simulate
from radiosim.vehicle.fold.supply import (
    NOWHEN,
    LoadChange,
    LoadState,
    SupplyState,
    Switch,
    fold_load,
    fold_supply,
)
from radiosim.vehicle.output_fold import numbers_of
from radiosim.vehicle.supply_limits import can_brown_out
from radiosim.vehicle.vehicle import run_vehicle
from tests.engines.random_scenarios import loaded_scenarios
from tests.examples import examples

MS = 1_000_000
LATE_NS = 10**15


def supply_of(**changes: Any) -> Any:
    """5 V behind 1 Ohm, held in reset under 4.5 V, let go of at 4.6; one load of which nothing is
    drawn at rest."""
    state = blank(SupplyState, {"load": MOST_LOADS})
    vars(state).update(
        voltage_v=5.0, volts_per_ma=0.001, brownout_v=4.5, release_v=4.6, volts=5.0, loads=1
    )
    vars(state).update(changes)
    state.load[0].loss_ns = NOWHEN
    return state


def change(at_ms: float, starting_ma: float, flowing_ma: float, *until_ms: float) -> Any:
    """A load that from an instant on draws one current, then another, then that at rest."""
    row = blank(LoadChange, {})
    row.at_ns, row.starting_ma, row.flowing_ma = round(at_ms * MS), starting_ma, flowing_ma
    row.started_ns, row.moved_ns = (round(ms * MS) for ms in until_ms)
    return row


RUNS = [Switch(0, 1)]


def test_without_a_capacitor_a_start_pulls_it_down_an_instant_later() -> None:
    found = fold_supply(supply_of(), [change(10, 600, 200, 30, 100)], RUNS, LATE_NS)

    assert (found.at_ns, found.until_ns, found.outputs) == (10 * MS + 1, 30 * MS, 1)
    assert (found.drawn_ma, found.settles_v) == (600, 4.4)


def test_what_only_moves_does_no_harm() -> None:
    assert fold_supply(supply_of(), [change(10, 400, 200, 30, 100)], RUNS, LATE_NS).at_ns == NOWHEN


def test_between_its_level_and_the_one_that_lets_go_it_stays_in_reset() -> None:
    # 4.4 V while it starts, 4.55 V while it moves: under 4.6 V all the while.
    found = fold_supply(supply_of(), [change(10, 600, 450, 30, 100)], RUNS, LATE_NS)

    assert (found.at_ns, found.until_ns) == (10 * MS + 1, 100 * MS)


def test_a_capacitor_falls_and_rises_by_the_exponential() -> None:
    # 5 V fall towards 4.4: 4.5 V is reached at tau ln(0.6/0.1); then it goes on towards 4.4 until
    # the start is over, and rises towards 4.8.
    tau_ns = 5.0 * MS
    found = fold_supply(supply_of(tau_ns=tau_ns), [change(10, 600, 200, 30, 100)], RUNS, LATE_NS)
    low_v = 4.4 + 0.6 * math.exp(-20 * MS / tau_ns)

    assert found.at_ns == 10 * MS + math.ceil(tau_ns * math.log(6))
    assert found.until_ns == 30 * MS + math.ceil(tau_ns * math.log((4.8 - low_v) / 0.2))


def test_a_capacitor_carries_a_start_that_is_short_enough() -> None:
    # tau ln 6 is longer than the start of 20 ms.
    tau_ns = 20.1 * MS / math.log(6)
    short, long = change(10, 600, 200, 30, 100), change(10, 600, 200, 30.2, 100)

    assert fold_supply(supply_of(tau_ns=tau_ns), [short], RUNS, LATE_NS).at_ns == NOWHEN
    assert fold_supply(supply_of(tau_ns=tau_ns), [long], RUNS, LATE_NS).at_ns != NOWHEN


def test_two_that_start_at_once_bring_down_what_carries_each_alone() -> None:
    def found(second_ms: float) -> Any:
        state = supply_of(loads=2)
        state.load[1].loss_ns = NOWHEN
        one, other = change(10, 300, 100, 30, 100), change(second_ms, 300, 100, second_ms + 20, 200)
        other.load = 1
        return fold_supply(state, [one, other], RUNS, LATE_NS)

    assert found(50).at_ns == NOWHEN
    assert (found(15).at_ns, found(15).outputs) == (15 * MS + 1, 0b11)


def test_what_runs_by_the_level_stops_with_the_program_and_a_servo_ends_its_movement() -> None:
    motor, servo = supply_of(), supply_of()
    motor.load[0].loss_ns = 5 * MS

    stopped = fold_supply(motor, [change(10, 600, 600, 10, 9_999)], RUNS, LATE_NS)
    ended = fold_supply(servo, [change(10, 600, 600, 10, 100)], RUNS, LATE_NS)

    assert stopped.until_ns == 10 * MS + 1 + 5 * MS
    assert ended.until_ns == 100 * MS


def test_a_program_that_does_not_run_cannot_be_brought_down() -> None:
    down = [Switch(0, 1), Switch(9 * MS, 0), Switch(40 * MS, 1)]

    early = fold_supply(supply_of(), [change(10, 600, 200, 30, 100)], down, LATE_NS)
    late = fold_supply(supply_of(), [change(10, 600, 600, 10, 50)], down, LATE_NS)

    assert early.at_ns == NOWHEN
    assert late.at_ns == 40 * MS + 1


def servo_load(**changes: Any) -> Any:
    """A servo with 0.1 s for 60 degrees, 90 degrees from 1000 to 2000 us."""
    state = blank(LoadState, {})
    described = parse(TWO).output["steer"].servo
    assert described is not None
    vars(state.servo).update(numbers_of(described))
    vars(state).update(moving_ma=200.0, start_ma=650.0, start_ns=20 * MS)
    vars(state).update(changes)
    return state


def effects_of(pulses: list[tuple[float, float]]) -> list[Any]:
    """Pulses by when they end, ms, and their length, us; NaN: none."""
    return [
        type("E", (), {"start_ns": round(at * MS), "end_ns": round(at * MS), "level": us * 1000})
        for at, us in pulses
    ]


def draws(state: Any, pulses: list[tuple[float, float]]) -> list[tuple[float, float, float]]:
    """When its draw changes, until when it draws its start's current, until when it moves, ms."""
    room = [blank(LoadChange, {}) for _ in pulses]
    told = fold_load(state, effects_of(pulses), [LATE_NS], room)
    return [(row.at_ns / MS, row.started_ns / MS, row.moved_ns / MS) for row in room[:told]]


def test_a_servo_draws_for_as_long_as_its_way_takes() -> None:
    # 45 degrees at 600 degrees a second.
    assert draws(servo_load(), [(0, 1000), (20, 1000), (40, 1500)]) == [(40, 60, 115)]


def test_its_first_pulse_places_it_and_moves_nothing() -> None:
    assert draws(servo_load(), [(0, 2000), (20, 2000)]) == []


def test_it_starts_again_only_from_rest_or_where_it_turns_round() -> None:
    # The goal moves on while it is under way; then it is sent back.
    further = [(0, 1000), (40, 1500), (60, 1600), (80, 1000)]

    assert draws(servo_load(), further) == pytest.approx(
        np.array([(40, 60, 115), (60, 60, 130), (80, 100, 120)])
    )


def motor_load(**changes: Any) -> Any:
    state = blank(LoadState, {})
    vars(state).update(
        rest_ma=10.0, moving_ma=1_010.0, start_ma=4_010.0, start_ns=20 * MS, idle=1.5e6, span=0.5e6
    )
    vars(state).update(changes)
    return state


def test_a_motor_draws_by_its_distance_from_standing_still() -> None:
    room = [blank(LoadChange, {}) for _ in range(4)]
    state = motor_load(loss_ns=7 * MS)
    pulses = [(0, 1500), (20, 1750), (40, 2000), (60, math.nan)]
    told = fold_load(state, effects_of(pulses), [LATE_NS], room)

    rows = [(r.at_ns / MS, r.starting_ma, r.flowing_ma, r.started_ns / MS) for r in room[:told]]
    assert rows == [(20, 2_010, 510, 40), (40, 4_010, 1_010, 40), (60, 4_010, 1_010, 40)]
    assert room[2].moved_ns == 67 * MS


TWO = """
duration_s = 12
seed = 3
radio = { profile = "gfsk-1M" }
air.loss = 0.0
[layout.stick]
fields = [
  { name = "count", type = "u8" },
  { name = "steer", type = "i8", scale = 0.01, min = -1.0, max = 1.0 },
]
[transmitter.drive]
layout = "stick"
period_ms = 20
boot_s = 0
signals.count = { kind = "counter" }
signals.steer = { kind = "constant", value = 1.0 }
[receiver]
boot_s = 0.4
watchdog_ms = 500
supply = { voltage_v = 5, resistance_mohm = 500, brownout_v = 4.5 }
[failsafe.drive]
timeout_ms = 300
[output.steer]
stream = "drive"
field = "steer"
phase_ms = 3
on_failsafe = { preset_us = 1500 }
servo = { travel_deg = 90, over_us = [1000, 2000], seconds_per_60deg = 0.1 }
load = { moving_ma = 200, start_ma = 650 }
[output.pan]
stream = "drive"
field = "steer"
phase_ms = 3
on_failsafe = { preset_us = 1500 }
servo = { travel_deg = 90, over_us = [1000, 2000], seconds_per_60deg = 0.1 }
load = { moving_ma = 200, start_ma = 650 }
[[fault]]
kind = "power_off"
unit = "drive"
at_s = 4
for_s = 3
"""


def test_failsafe_moves_all_at_once_and_that_brings_the_receiver_down() -> None:
    trace = simulate(parse(TWO))

    # 1300 mA through 0.5 Ohm are 0.65 V: each alone would do no harm. Failsafe at 4.3 s moves
    # both, and after the boot both start where they stand until the stick is back.
    first = trace.brownouts[0]
    assert (int(first["outputs"]), int(first["drawn_ua"])) == (0b11, 1_300_000)
    assert int(first["settles_uv"]) == 4_350_000
    assert 4.28e9 < first["at_ns"] < 4.36e9
    alone = parse(TWO, overrides=['output.pan.load.supply="own"'])
    assert len(simulate(alone).brownouts) == 0


def test_a_supply_that_carries_all_at_once_is_not_looked_at() -> None:
    scenario = parse(TWO, overrides=["receiver.supply.resistance_mohm=380"])

    assert not can_brown_out(scenario)
    assert brownouts_of(scenario, 0, "auto") == ()


def is_down_ns(trace: Trace) -> list[tuple[int, int]]:
    """From each stop of the receiver's program to its next start, or the end."""
    steps = [
        step
        for step in plan_of(trace).steps
        if step.unit == len(trace.scenario.transmitter)
        and step.kind in (PROGRAM_STARTS, PROGRAM_STOPS)
    ]
    ends = [*(step.at_ns for step in steps[1:]), trace.duration_ns][: len(steps)]
    return [
        (step.at_ns, end)
        for step, end in zip(steps, ends, strict=True)
        if step.kind == PROGRAM_STOPS
    ]


@given(loaded_scenarios)
@examples(30)
def test_every_dip_stops_a_program_that_ran_and_nothing_acts_until_it_has_booted(
    given: Scenario,
) -> None:
    trace = simulate(given)
    down, rows = is_down_ns(trace), trace.brownouts
    outputs = run_vehicle(trace).outputs.values() if len(rows) else ()

    for row in rows:
        end_ns = dict(down)[int(row["at_ns"])]
        assert row["at_ns"] < row["until_ns"]
        assert min(int(row["until_ns"]), trace.duration_ns) <= end_ns
        # An interrupt at the instant of the boot reads in a pass that began one before it.
        passes = trace.passes["start_ns"]
        assert not ((passes > row["at_ns"]) & (passes < end_ns - 1)).any()
        for record in outputs:
            ends = record.effects["end_ns"]
            assert not ((ends > row["at_ns"]) & (ends < end_ns)).any()
    assert all(one["until_ns"] <= other["at_ns"] for one, other in pairwise(rows))


@given(loaded_scenarios)
@examples(30)
def test_no_dip_at_all_leaves_every_step_of_a_plan_in_its_place(given: Scenario) -> None:
    plan = make_plan(given, 0)

    assert with_brownouts(given, plan, ()) == plan


@given(loaded_scenarios)
@examples(30)
def test_loads_on_a_supply_of_their_own_are_as_no_supply_at_all(given: Scenario) -> None:
    outputs = {
        name: output
        if output.load is None
        else replace(output, load=replace(output.load, supply="own"))
        for name, output in given.output.items()
    }
    own = replace(given, output=outputs)
    without = replace(given, receiver=replace(given.receiver, supply=None))

    for name in ROWS:
        assert getattr(simulate(own), name).tolist() == getattr(simulate(without), name).tolist()


def test_the_engine_alone_knows_of_no_dip_and_the_package_never_asks_it_alone() -> None:
    scenario = parse(TWO)

    assert make_plan(scenario, 0).brownouts == ()
    assert feedback.flow(scenario).plan.brownouts != ()
