"""How long an output stays alive after its transmitter went silent."""

import math

import msgspec
import numpy as np
import pytest

from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import simulate
from radiosim.trace import NEW
from radiosim.units import NS_PER_MS
from radiosim.vehicle.fold.program_state import FAILSAFE
from radiosim.vehicle.reaction_bound import (
    ENDLESS_PASS,
    Bound,
    bound_of,
    clock_width_ppb,
    latest_over_ns,
    longest_pass_ns,
    longest_wait_ns,
    reachable_worst_ns,
    with_slowest_clock,
)
from radiosim.vehicle.vehicle import OutputRecord, run_vehicle
from tests.traces import scenario_with

# A frame of three bytes takes 14 us to read (10 + 4 bytes at 8 MHz), one of four 15 us.
READ_NS = 15_000
INTERRUPT_NS = 8_200


def bound(*overrides: str) -> Bound:
    scenario = scenario_with(*overrides)
    return bound_of(scenario, make_plan(scenario, 0), "track")


def terms(*overrides: str) -> dict[str, float]:
    return {term.name: term.ns / NS_PER_MS for term in bound(*overrides).terms}


def test_the_longest_polled_pass_reads_one_frame_or_a_full_fifo() -> None:
    one = make_plan(scenario_with(), 0)
    everything = make_plan(scenario_with("receiver.read='all'"), 0)

    assert longest_pass_ns(one) == NS_PER_MS + READ_NS
    assert longest_pass_ns(everything) == NS_PER_MS + 3 * READ_NS


def test_the_longest_pass_does_all_its_work() -> None:
    plan = make_plan(
        scenario_with(
            "receiver.delay_ms=2",
            "receiver.work=[{every_ms=50, takes_ms=3}, {every_ms=70, takes_ms=4}]",
        ),
        0,
    )

    assert longest_pass_ns(plan) == 10 * NS_PER_MS + READ_NS


def test_interrupts_stretch_a_pass_by_what_can_arrive_meanwhile() -> None:
    plan = make_plan(scenario_with("receiver.interrupt=true"), 0)
    shortest_frame_ns = min(tx.frame_ns for tx in plan.tx)
    longest_ns = longest_pass_ns(plan)

    assert longest_ns is not None
    arrivals = longest_ns // shortest_frame_ns + 1
    assert longest_ns >= NS_PER_MS + arrivals * READ_NS - 1
    assert longest_ns < NS_PER_MS + (arrivals + 1) * READ_NS


def test_reads_slower_than_the_air_hold_a_pass_up_without_end() -> None:
    slow = ("receiver.interrupt=true", "receiver.spi_overhead_us=500")

    assert longest_pass_ns(make_plan(scenario_with(*slow), 0)) is None
    assert bound(*slow).why_none == ENDLESS_PASS
    assert bound(*slow).total_ns is None


def test_a_pass_longer_than_the_timeout_still_sees_it_run_out() -> None:
    """The first pass that reads nothing comes one pass after the last that did."""
    found = bound("receiver.delay_ms=600")

    assert found.why_none == ""
    assert found.total_ns is not None
    assert found.total_ns > 600 * NS_PER_MS


def test_the_longest_wait_is_that_of_the_last_in_the_fifo() -> None:
    pass_ns = NS_PER_MS + READ_NS
    one, newest, interrupt = (
        make_plan(scenario_with(override), 0)
        for override in ("seed=1", "receiver.read='newest'", "receiver.interrupt=true")
    )

    assert longest_wait_ns(one, False) == 3 * pass_ns + INTERRUPT_NS
    assert longest_wait_ns(newest, False) == NS_PER_MS + 3 * READ_NS + INTERRUPT_NS
    assert longest_wait_ns(interrupt, False) == INTERRUPT_NS
    assert longest_wait_ns(one, True) == INTERRUPT_NS


@pytest.mark.parametrize(("more", "held_ms"), [("", 3), (", longest_ms=9", 9)])
def test_interrupts_wait_while_they_are_held_off(more: str, held_ms: int) -> None:
    plan = make_plan(
        scenario_with(
            "receiver.interrupt=true",
            f"receiver.work=[{{every_ms=50, takes_ms=3, interrupts_off=true{more}}}, "
            "{every_ms=70, takes_ms=4}]",
        ),
        0,
    )

    # Work of random length counts with the longest that it can take (rule A4).
    assert longest_wait_ns(plan, False) == held_ms * NS_PER_MS + INTERRUPT_NS


def test_a_preset_waits_for_the_next_pulse_and_its_end() -> None:
    assert terms() == pytest.approx(
        {
            "wait in the FIFO": 3.0532,
            "timeout": 100.0,
            "longest pass": 1.015,
            "wait for the next pulse": 20.0,
            "pulse": 1.5,
        }
    )
    assert bound().total_ns == 125_568_200


@pytest.mark.parametrize(("tick_ms", "late_ms"), [(1, 1), (10, 10), (30, 20), (7, 5), (200, 100)])
def test_a_clock_in_steps_adds_what_is_left_of_its_step(tick_ms: float, late_ms: float) -> None:
    found = terms(f"receiver.clock_tick_ms={tick_ms}")

    assert found["timeout"] == 100
    assert found["tick of its clock"] == late_ms


@pytest.mark.parametrize("tick_ms", [1, 7])
def test_equal_passes_reach_the_last_tick_that_is_not_over(tick_ms: float) -> None:
    scenario = scenario_with(f"receiver.clock_tick_ms={tick_ms}")
    plan, whole = make_plan(scenario, 0), bound(f"receiver.clock_tick_ms={tick_ms}")
    latest_ns = latest_over_ns(scenario, scenario.failsafe["drive"], 0)
    passes = math.ceil(latest_ns / 1_015_000)

    found = reachable_worst_ns(plan, whole, latest_ns)
    assert (whole.total_ns or 0) - found == latest_ns + 1_015_000 - passes * 1_015_000


def test_a_preset_counts_with_the_limits() -> None:
    assert terms("output.track.limit_us=[1600, 1900]")["pulse"] == 1.6
    assert terms("output.track.limit_us=[1100, 1400]")["pulse"] == 1.4


def test_off_is_over_after_the_pulse_under_way() -> None:
    found = terms("output.track.on_failsafe='off'")

    assert found["pulse under way"] == 2.0
    assert "wait for the next pulse" not in found


def test_a_controller_runs_on_until_it_misses_its_pulses() -> None:
    found = terms(
        "output.track.on_failsafe='off'", "output.track.motor={stop_s=0.4, signal_loss_ms=500}"
    )

    assert found["controller's signal loss"] == 500


def test_a_pin_is_in_effect_when_written() -> None:
    found = terms("output.track.kind='pin'", "output.track.on_failsafe='off'")

    assert set(found) == {"wait in the FIFO", "timeout", "longest pass"}


@pytest.mark.parametrize(
    ("override", "why"),
    [
        ("output.track.on_failsafe='hold'", "it holds its last value"),
        ("failsafe.drive.fed_by='any'", "any other stream feeds its timer"),
    ],
)
def test_what_has_no_bound_says_why(override: str, why: str) -> None:
    assert bound(override).why_none == why
    assert bound(override).total_ns is None


def test_a_stream_without_failsafe_has_no_bound() -> None:
    scenario = scenario_with()

    assert (
        bound_of(scenario, make_plan(scenario, 0), "pan").why_none == "its stream has no failsafe"
    )


@pytest.mark.parametrize(
    ("override", "ppb"),
    [
        ("receiver.clock_ppm=-25", -25_000),
        ("receiver.clock_ppm=0", 0),
    ],
)
def test_a_fixed_clock_is_as_slow_as_it_is(override: str, ppb: int) -> None:
    assert clock_width_ppb(scenario_with(override)) == ppb


def test_the_slowest_clock_makes_the_longest_pass_of_all_starts() -> None:
    text = ("receiver.clock='internal'", "receiver.loop_ms=40")
    drawn = scenario_with(*text)
    # The scenario fixes its clock: left out, one is drawn.
    receiver = msgspec.structs.replace(drawn.receiver, clock_ppm=None)
    drawn = msgspec.structs.replace(drawn, receiver=receiver)
    slowest = make_plan(with_slowest_clock(drawn), 0)

    assert slowest.rx.ppb == 20_000_000
    for start in range(20):
        assert (longest_pass_ns(make_plan(drawn, start)) or 0) <= (longest_pass_ns(slowest) or 0)


def test_equal_passes_reach_no_further_than_whole_passes() -> None:
    # L = 1.015 ms, D = 100 ms: 99 passes and one more are past it.
    plan, whole = make_plan(scenario_with(), 0), bound()

    assert reachable_worst_ns(plan, whole, 100 * NS_PER_MS) == (whole.total_ns or 0) - (
        101_015_000 - 99 * 1_015_000
    )


@pytest.mark.parametrize("override", ["receiver.interrupt=true", "receiver.loop_ms=1"])
def test_a_timer_fed_between_passes_can_reach_its_whole_bound(override: str) -> None:
    plan, whole = make_plan(scenario_with(override), 0), bound(override)

    reached = reachable_worst_ns(plan, whole, 100 * NS_PER_MS, fed_at_arrival=not plan.rx.interrupt)
    assert reached == whole.total_ns


def test_nothing_is_reachable_without_a_bound() -> None:
    with pytest.raises(ValueError, match="without a bound: it holds its last value"):
        reachable_worst_ns(
            make_plan(scenario_with(), 0), bound("output.track.on_failsafe='hold'"), 100 * NS_PER_MS
        )


def stopped_ns(record: OutputRecord, after_ns: int) -> int:
    """When the first failsafe value after an instant was in effect."""
    told, effects = record.told, record.effects
    entry = int(np.flatnonzero((told["kind"] == FAILSAFE) & (told["at_ns"] > after_ns))[0])
    if np.isnan(told["level"][entry]):
        live = (effects["entry"] < entry) & ~np.isnan(effects["level"])
        return max(int(effects["end_ns"][live][-1]), int(told["at_ns"][entry]))
    return int(effects["end_ns"][effects["entry"] == entry][0])


@pytest.mark.parametrize(
    "overrides",
    [
        (),
        ("output.track.on_failsafe='off'",),
        ("receiver.loop_ms=40", "receiver.read='all'"),
        ("receiver.loop_ms=7", "receiver.work=[{every_ms=90, takes_ms=30}]"),
        ("receiver.interrupt=true", "receiver.loop_ms=25"),
        ("failsafe.drive.fed_at='arrival'", "receiver.loop_ms=15"),
        ("output.track.kind='pwm'", "output.track.on_failsafe={preset=0.0}"),
        ("receiver.clock_tick_ms=7", "receiver.loop_ms=15"),
        ("receiver.clock_tick_ms=30", "failsafe.drive.fed_at='arrival'"),
    ],
)
def test_no_start_stops_later_than_its_bound(overrides: tuple[str, ...]) -> None:
    for start in range(6):
        scenario = scenario_with(
            "duration_s=0.8",
            "output.track.phase_ms='drawn'",
            "transmitter.drive.offset_ms='drawn'",
            "transmitter.head.offset_ms='drawn'",
            # A third of the starts of equal periods would never hear the drive transmitter.
            "transmitter.head.period_ms=23",
            f"fault=[{{at_s={0.2 + 0.0031 * start}, kind='power_off', unit='drive'}}]",
            *overrides,
        )
        plan, trace = make_plan(scenario, start), simulate(scenario, start=start)
        record = run_vehicle(trace).outputs["track"]
        mine = trace.attempts[(trace.attempts["stream"] == 0) & (trace.attempts["fate"] == NEW)]
        last_ns = int(mine["end_ns"].max())
        limit_ns = bound_of(scenario, plan, "track").total_ns

        assert limit_ns is not None
        assert stopped_ns(record, last_ns) - last_ns <= limit_ns
