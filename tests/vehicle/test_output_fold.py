"""From fields to the level of an output."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.rules.timing import grid_point
from radiosim.scenario import Scenario
from radiosim.scenario.structs.output_table import Output
from radiosim.trace import ReadRow
from radiosim.units import NS_PER_MS
from radiosim.vehicle.fold.program_state import FAILSAFE, STARTED, WRITTEN
from radiosim.vehicle.fold.values import Scale, level_of
from radiosim.vehicle.output_fold import preset_level, scale_of, start_level
from radiosim.vehicle.vehicle import OutputRecord, run_vehicle
from tests.traces import ms, read, scenario_with, trace_of


def track(*overrides: str) -> Output:
    """The output `track` of the scenario with some of its keys set."""
    return scenario_with(*(f"output.track.{override}" for override in overrides)).output["track"]


def level(mixed: float, *overrides: str) -> float:
    """What it comes to."""
    return level_of(scale_of(track(*overrides)), mixed)


@pytest.mark.parametrize(
    ("value", "pulse_us"), [(-1.0, 1000), (0.0, 1500), (0.5, 1750), (1.0, 2000), (3.0, 2000)]
)
def test_the_ends_of_the_value_are_the_ends_of_the_pulse(value: float, pulse_us: float) -> None:
    assert level(value) == pulse_us * 1000


def test_reversed_pulses_turn_the_other_way() -> None:
    reversed_ = "pulse_us=[2000, 1000]"

    assert level(-1.0, reversed_) == 2_000_000
    assert level(0.5, reversed_) == 1_250_000
    scale = scale_of(track(reversed_))
    assert (scale.least_ns, scale.most_ns) == (1_000_000, 2_000_000)


def test_limits_cut_what_the_value_asks_for() -> None:
    limits = "limit_us=[1100, 1900]"

    assert level(-1.0, limits) == 1_100_000
    assert level(1.0, limits) == 1_900_000
    assert level(0.5, limits) == 1_750_000


pulses_us = st.floats(500, 2500)


@given(st.tuples(pulses_us, pulses_us), st.tuples(pulses_us, pulses_us), st.floats(-5, 5))
def test_limits_are_never_left(
    pulse_us: tuple[float, float], limit_us: tuple[float, float], value: float
) -> None:
    least_ns, most_ns = sorted(limit * 1000 for limit in limit_us)
    scale = Scale(
        low=-1.0,
        high=1.0,
        has_pulses=1,
        first_ns=pulse_us[0] * 1000,
        last_ns=pulse_us[1] * 1000,
        least_ns=least_ns,
        most_ns=most_ns,
    )

    assert least_ns - 0.5 <= level_of(scale, value) <= most_ns + 0.5


def outcome(*overrides: str) -> OutputRecord:
    """What the output of one stream did with its first two frames, one fifth of a second apart."""
    scenario = scenario_with("failsafe.drive.timeout_ms=50", *overrides)
    return run_vehicle(trace_of(scenario, [read(30, 7), read(130, 8)])).outputs["track"]


def test_a_mix_is_a_weighted_sum() -> None:
    mix = (
        "output.track={stream='drive', mix={throttle=1.0, count=-0.5}, value=[-10, 10], "
        "kind='pwm', on_failsafe='off'}",
    )

    # Frames 7 and 8; the throttle stands at 0, then at 1.
    assert outcome(*mix).told["level"][[1, 3]].tolist() == [0.0 - 3.5, 1.0 - 4.0]


def test_a_pwm_output_takes_the_value_itself() -> None:
    pwm = ("kind='pwm'", "on_failsafe={preset=0.2}")

    assert level(0.3, *pwm) == 0.3
    assert level(7.0, *pwm) == 1.0


def test_no_pulses_until_the_first_frame_unless_it_says_so() -> None:
    assert math.isnan(start_level(track()))
    assert start_level(track("at_start=1400")) == 1_400_000


def test_a_start_pulse_keeps_to_the_limits() -> None:
    assert start_level(track("at_start=1050", "limit_us=[1100, 1900]")) == 1_100_000


def test_a_pwm_output_starts_with_a_value() -> None:
    assert start_level(track("kind='pwm'", "on_failsafe='off'", "at_start=0.0")) == 0.0


def test_hold_keeps_what_was_held() -> None:
    told = outcome("output.track.on_failsafe='hold'").told

    assert told["kind"].tolist() == [STARTED, WRITTEN, FAILSAFE, WRITTEN, FAILSAFE]
    assert told["level"].tolist()[1:] == [1_500_000, 1_500_000, 2_000_000, 2_000_000]
    assert told["frame"].tolist() == [-1, 7, 7, 8, 8]


def test_off_is_no_pulse() -> None:
    levels = outcome("output.track.on_failsafe='off'").told["level"]

    assert levels[1::2].tolist() == [1_500_000, 2_000_000]
    assert np.isnan(levels[::2]).all()


def test_a_preset_keeps_to_the_limits() -> None:
    assert preset_level(track()) == 1_500_000
    assert preset_level(track("limit_us=[1600, 1900]")) == 1_600_000


def test_a_pwm_preset_is_a_value() -> None:
    assert preset_level(track("kind='pwm'", "on_failsafe={preset=0.2}")) == 0.2


def test_hold_and_off_have_no_preset() -> None:
    assert math.isnan(preset_level(track("on_failsafe='hold'")))
    assert math.isnan(preset_level(track("on_failsafe='off'")))


def outcome_of_output(
    scenario: Scenario,
    reads: list[ReadRow],
    passes: list[tuple[int, int, int]] | None = None,
    name: str = "track",
) -> OutputRecord:
    """What an output made of some reads."""
    return run_vehicle(trace_of(scenario, reads, passes)).outputs[name]


def shown(record: OutputRecord, until_ms: float = 1e9) -> list[tuple[float, float, float]]:
    """(start, end, pulse in us) of each pulse in ms; without those that are none."""
    return [
        (ms(start), ms(end), level / 1000)
        for start, end, level in zip(
            record.effects["start_ns"].tolist(),
            record.effects["end_ns"].tolist(),
            record.effects["level"].tolist(),
            strict=True,
        )
        if level == level and ms(start) < until_ms  # noqa: PLR0124 - NaN: no pulse
    ]


def fresh(record: OutputRecord) -> list[float]:
    return [ms(at) for at in record.effects["end_ns"][record.effects["is_fresh"] == 1].tolist()]


def steady(first_ms: int, last_ms: int, period_ms: int = 20) -> list[ReadRow]:
    return [read(at, n) for n, at in enumerate(range(first_ms, last_ms + 1, period_ms))]


# The throttle stands at 0, 1, −0.5 and 0.25, a tenth of a second each; pulses start at 5, 25, …


def test_a_pulse_carries_what_was_last_written_and_is_in_effect_at_its_end() -> None:
    record = outcome_of_output(scenario_with(), [read(30, 0), read(106, 1)])

    assert shown(record, 140) == [
        (45, 46.5, 1500),
        (65, 66.5, 1500),
        (85, 86.5, 1500),
        (105, 106.5, 1500),
        (125, 127, 2000),
    ]
    assert fresh(record) == [46.5, 127]


def test_a_write_at_the_start_of_a_pulse_is_in_it() -> None:
    assert shown(outcome_of_output(scenario_with(), [read(125, 0)]), 130) == [(125, 127, 2000)]


def test_a_pulse_under_way_is_not_changed() -> None:
    reads = [read(30, 0), read(106, 1)]

    assert shown(outcome_of_output(scenario_with(), reads), 110)[-1] == (105, 106.5, 1500)


def test_of_two_frames_between_pulses_the_newer_is_fresh_once() -> None:
    assert fresh(outcome_of_output(scenario_with(), [read(30, 0), read(40, 1), read(50, 2)])) == [
        46.5,
        66.5,
    ]


def test_an_equal_value_of_a_newer_frame_is_fresh() -> None:
    assert fresh(outcome_of_output(scenario_with(), [read(10, 0), read(50, 1)])) == [26.5, 66.5]


def test_a_frame_that_was_let_through_twice_is_fresh_once() -> None:
    assert fresh(outcome_of_output(scenario_with(), [read(10, 0), read(50, 0)])) == [26.5]


def test_there_are_no_pulses_before_the_first_frame() -> None:
    assert shown(outcome_of_output(scenario_with(), [])) == []


def test_there_are_pulses_before_the_first_frame_if_it_says_so() -> None:
    record = outcome_of_output(scenario_with("output.track.at_start=1400"), [])

    assert shown(record, 30) == [(5, 6.4, 1400), (25, 26.4, 1400)]
    assert fresh(record) == []


def test_a_preset_is_in_effect_at_the_end_of_the_next_pulse() -> None:
    record = outcome_of_output(scenario_with(), [read(150, 0)])

    # Last fed at 150: the pass at 251 sees it.
    assert shown(record, 280)[-3:] == [(225, 227, 2000), (245, 247, 2000), (265, 266.5, 1500)]
    assert fresh(record) == [167]


def test_hold_goes_on_with_the_last_value() -> None:
    record = outcome_of_output(scenario_with("output.track.on_failsafe='hold'"), [read(150, 0)])

    assert shown(record)[-1] == (1985, 1987, 2000)
    assert not record.told["is_live"][record.effects["entry"][-1]]


def test_off_ends_the_pulses() -> None:
    assert shown(
        outcome_of_output(scenario_with("output.track.on_failsafe='off'"), [read(150, 0)])
    )[-1] == (
        245,
        247,
        2000,
    )


def test_after_failsafe_a_newer_frame_is_fresh() -> None:
    assert fresh(outcome_of_output(scenario_with(), [read(150, 0), read(400, 1)])) == [167, 406.5]


def test_an_old_value_that_comes_alive_is_not_fresh() -> None:
    scenario = scenario_with("failsafe.drive.fed_by='any'")
    record = outcome_of_output(scenario, [read(150, 0), read(400, 0, stream=1)])

    assert fresh(record) == [167]
    assert (405, 407, 2000) in shown(record)


def test_reversed_pulses_are_in_effect_at_their_own_end() -> None:
    record = outcome_of_output(scenario_with("output.track.pulse_us=[2000, 1000]"), [read(150, 0)])

    assert shown(record, 180) == [(165, 166, 1000)]


def test_a_pwm_output_is_in_effect_when_written() -> None:
    scenario = scenario_with("output.track.kind='pwm'", "output.track.on_failsafe={preset=-1.0}")
    record = outcome_of_output(scenario, [read(30, 0), read(130, 1)])

    assert [ms(at) for at in record.effects["end_ns"].tolist()] == [0, 30, 130, 231]
    assert record.effects["level"].tolist()[1:] == [0.0, 1.0, -1.0]
    assert fresh(record) == [30, 130]


def test_values_are_those_that_travelled_in_whole_steps() -> None:
    scenario = scenario_with(
        "output.track.kind='pwm'",
        "output.track.on_failsafe='off'",
        "transmitter.drive.signals.throttle={kind='constant', value=0.12345}",
    )

    assert outcome_of_output(scenario, [read(30, 0)]).effects["level"].tolist()[1] == pytest.approx(
        0.123
    )


def test_age_counts_from_the_slowest_sensor() -> None:
    scenario = scenario_with(
        "transmitter.drive.signals.throttle={kind='steps', hold_s=0.1, every_ms=500}"
    )
    told = outcome_of_output(scenario, [read(130, 0), read(150, 1)]).told

    assert told["sampled_ns"].tolist()[1:3] == [130 * NS_PER_MS, 150 * NS_PER_MS]
    assert told["values_ns"][1] == told["values_ns"][2] <= 130 * NS_PER_MS


def test_a_reset_cuts_the_pulse_under_way_and_starts_the_grid_again() -> None:
    scenario = scenario_with(
        "receiver.boot_s=0.05",
        "fault=[{at_s=0.2265, kind='reset', unit='receiver'}]",
        "output.track.at_start=1400",
    )
    record = outcome_of_output(scenario, [read(150, 0)])

    # The first boot is over at 50 ms, the second at 276.5 ms.
    assert shown(record, 310) == [
        (55, 56.4, 1400),
        (75, 76.4, 1400),
        (95, 96.4, 1400),
        (115, 116.4, 1400),
        (135, 136.4, 1400),
        (155, 157, 2000),
        (175, 177, 2000),
        (195, 197, 2000),
        (215, 217, 2000),
        (281.5, 282.9, 1400),
        (301.5, 302.9, 1400),
    ]


def test_a_pulse_that_ends_as_the_pin_floats_is_none() -> None:
    at_end = scenario_with("fault=[{at_s=0.207, kind='brownout', unit='receiver'}]")
    later = scenario_with("fault=[{at_s=0.207000001, kind='brownout', unit='receiver'}]")

    assert shown(outcome_of_output(at_end, [read(150, 0)]))[-1][0] == 185
    assert shown(outcome_of_output(later, [read(150, 0)]))[-1] == (205, 207, 2000)


def test_pulses_go_on_while_the_program_hangs() -> None:
    scenario = scenario_with("fault=[{at_s=0.2, kind='hang', unit='receiver'}]")

    assert shown(outcome_of_output(scenario, [read(150, 0)]))[-1] == (1985, 1987, 2000)


def test_two_resets_at_one_instant_are_one() -> None:
    fault = "{at_s=0.2, kind='reset', unit='receiver'}"
    record = outcome_of_output(
        scenario_with(f"fault=[{fault}, {fault}]", "output.track.at_start=1400"), []
    )

    assert len(set(record.effects["start_ns"].tolist())) == len(record.effects["start_ns"])


@pytest.mark.parametrize("ppm", [-100_000, -20_000, 0, 60, 100_000])
@pytest.mark.parametrize("hz", [33.0, 50.0, 400.0])
def test_the_receivers_clock_paces_the_pulses(ppm: float, hz: float) -> None:
    scenario = scenario_with(
        f"receiver.clock_ppm={ppm}",
        f"output.track.refresh_hz={hz}",
        "output.track.at_start=1400",
        "output.track.phase_ms=0",
    )
    starts = outcome_of_output(scenario, []).effects["start_ns"].tolist()
    period_ns = round(1e9 / hz)
    points = [grid_point(k, period_ns, round(ppm * 1000)) for k in range(len(starts) + 2)]

    assert starts == points[: len(starts)]
    assert points[len(starts)] + 1_400_000 >= 2_000 * NS_PER_MS, "none is missing at the end"


def test_a_drawn_phase_is_drawn_anew_each_start() -> None:
    scenario = scenario_with("output.track.phase_ms='drawn'", "output.track.at_start=1400")
    first = outcome_of_output(scenario, []).effects["start_ns"][0]

    assert 0 <= first < 20 * NS_PER_MS
    assert first == outcome_of_output(scenario, []).effects["start_ns"][0]
    assert (
        first
        != outcome_of_output(
            scenario_with("seed=2", "output.track.phase_ms='drawn'", "output.track.at_start=1400"),
            [],
        ).effects["start_ns"][0]
    )


@given(st.lists(st.integers(1, 150), min_size=1, max_size=12))
def test_every_pulse_carries_the_last_entry_before_it(gaps_ms: list[int]) -> None:
    rows = [read(at, n) for n, at in enumerate(np.cumsum(gaps_ms).tolist()) if at < 2000]
    record = outcome_of_output(scenario_with(), rows)
    told = record.told["at_ns"]

    for start, entry in zip(
        record.effects["start_ns"].tolist(), record.effects["entry"].tolist(), strict=True
    ):
        assert told[entry] <= start
        assert entry + 1 == len(told) or told[entry + 1] > start
