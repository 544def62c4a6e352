"""What one output was told, and when that was in effect."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.rules.grid import grid_point
from radiosim.scenario import Scenario
from radiosim.trace import ReadRow
from radiosim.units import NS_PER_MS
from radiosim.vehicle.kept import OutputRecord, run_vehicle
from tests.traces import ms, read, scenario_with, trace_of


def outcome(
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
    record = outcome(scenario_with(), [read(30, 0), read(106, 1)])

    assert shown(record, 140) == [
        (45, 46.5, 1500),
        (65, 66.5, 1500),
        (85, 86.5, 1500),
        (105, 106.5, 1500),
        (125, 127, 2000),
    ]
    assert fresh(record) == [46.5, 127]


def test_a_write_at_the_start_of_a_pulse_is_in_it() -> None:
    assert shown(outcome(scenario_with(), [read(125, 0)]), 130) == [(125, 127, 2000)]


def test_a_pulse_under_way_is_not_changed() -> None:
    reads = [read(30, 0), read(106, 1)]

    assert shown(outcome(scenario_with(), reads), 110)[-1] == (105, 106.5, 1500)


def test_of_two_frames_between_pulses_the_newer_is_fresh_once() -> None:
    assert fresh(outcome(scenario_with(), [read(30, 0), read(40, 1), read(50, 2)])) == [46.5, 66.5]


def test_an_equal_value_of_a_newer_frame_is_fresh() -> None:
    assert fresh(outcome(scenario_with(), [read(10, 0), read(50, 1)])) == [26.5, 66.5]


def test_a_frame_that_was_let_through_twice_is_fresh_once() -> None:
    assert fresh(outcome(scenario_with(), [read(10, 0), read(50, 0)])) == [26.5]


def test_there_are_no_pulses_before_the_first_frame() -> None:
    assert shown(outcome(scenario_with(), [])) == []


def test_there_are_pulses_before_the_first_frame_if_it_says_so() -> None:
    record = outcome(scenario_with("output.track.at_start=1400"), [])

    assert shown(record, 30) == [(5, 6.4, 1400), (25, 26.4, 1400)]
    assert fresh(record) == []


def test_a_preset_is_in_effect_at_the_end_of_the_next_pulse() -> None:
    record = outcome(scenario_with(), [read(150, 0)])

    # Last fed at 150: the pass at 251 sees it.
    assert shown(record, 280)[-3:] == [(225, 227, 2000), (245, 247, 2000), (265, 266.5, 1500)]
    assert fresh(record) == [167]


def test_hold_goes_on_with_the_last_value() -> None:
    record = outcome(scenario_with("output.track.on_failsafe='hold'"), [read(150, 0)])

    assert shown(record)[-1] == (1985, 1987, 2000)
    assert not record.told["is_live"][record.effects["entry"][-1]]


def test_off_ends_the_pulses() -> None:
    assert shown(outcome(scenario_with("output.track.on_failsafe='off'"), [read(150, 0)]))[-1] == (
        245,
        247,
        2000,
    )


def test_after_failsafe_a_newer_frame_is_fresh() -> None:
    assert fresh(outcome(scenario_with(), [read(150, 0), read(400, 1)])) == [167, 406.5]


def test_an_old_value_that_comes_alive_is_not_fresh() -> None:
    scenario = scenario_with("failsafe.drive.fed_by='any'")
    record = outcome(scenario, [read(150, 0), read(400, 0, stream=1)])

    assert fresh(record) == [167]
    assert (405, 407, 2000) in shown(record)


def test_reversed_pulses_are_in_effect_at_their_own_end() -> None:
    record = outcome(scenario_with("output.track.pulse_us=[2000, 1000]"), [read(150, 0)])

    assert shown(record, 180) == [(165, 166, 1000)]


def test_a_pwm_output_is_in_effect_when_written() -> None:
    scenario = scenario_with("output.track.kind='pwm'", "output.track.on_failsafe={preset=-1.0}")
    record = outcome(scenario, [read(30, 0), read(130, 1)])

    assert [ms(at) for at in record.effects["end_ns"].tolist()] == [0, 30, 130, 231]
    assert record.effects["level"].tolist()[1:] == [0.0, 1.0, -1.0]
    assert fresh(record) == [30, 130]


def test_values_are_those_that_travelled_in_whole_steps() -> None:
    scenario = scenario_with(
        "output.track.kind='pwm'",
        "output.track.on_failsafe='off'",
        "transmitter.drive.signals.throttle={kind='constant', value=0.12345}",
    )

    assert outcome(scenario, [read(30, 0)]).effects["level"].tolist()[1] == pytest.approx(0.123)


def test_age_counts_from_the_slowest_sensor() -> None:
    scenario = scenario_with(
        "transmitter.drive.signals.throttle={kind='steps', hold_s=0.1, every_ms=500}"
    )
    told = outcome(scenario, [read(130, 0), read(150, 1)]).told

    assert told["sampled_ns"].tolist()[1:3] == [130 * NS_PER_MS, 150 * NS_PER_MS]
    assert told["values_ns"][1] == told["values_ns"][2] <= 130 * NS_PER_MS


def test_a_reset_cuts_the_pulse_under_way_and_starts_the_grid_again() -> None:
    scenario = scenario_with(
        "receiver.boot_s=0.05",
        "fault=[{at_s=0.2265, kind='reset', unit='receiver'}]",
        "output.track.at_start=1400",
    )
    record = outcome(scenario, [read(150, 0)])

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

    assert shown(outcome(at_end, [read(150, 0)]))[-1][0] == 185
    assert shown(outcome(later, [read(150, 0)]))[-1] == (205, 207, 2000)


def test_pulses_go_on_while_the_program_hangs() -> None:
    scenario = scenario_with("fault=[{at_s=0.2, kind='hang', unit='receiver'}]")

    assert shown(outcome(scenario, [read(150, 0)]))[-1] == (1985, 1987, 2000)


def test_two_resets_at_one_instant_are_one() -> None:
    fault = "{at_s=0.2, kind='reset', unit='receiver'}"
    record = outcome(scenario_with(f"fault=[{fault}, {fault}]", "output.track.at_start=1400"), [])

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
    starts = outcome(scenario, []).effects["start_ns"].tolist()
    period_ns = round(1e9 / hz)
    points = [grid_point(k, period_ns, round(ppm * 1000)) for k in range(len(starts) + 2)]

    assert starts == points[: len(starts)]
    assert points[len(starts)] + 1_400_000 >= 2_000 * NS_PER_MS, "none is missing at the end"


def test_a_drawn_phase_is_drawn_anew_each_start() -> None:
    scenario = scenario_with("output.track.phase_ms='drawn'", "output.track.at_start=1400")
    first = outcome(scenario, []).effects["start_ns"][0]

    assert 0 <= first < 20 * NS_PER_MS
    assert first == outcome(scenario, []).effects["start_ns"][0]
    assert (
        first
        != outcome(
            scenario_with("seed=2", "output.track.phase_ms='drawn'", "output.track.at_start=1400"),
            [],
        ).effects["start_ns"][0]
    )


@given(st.lists(st.integers(1, 150), min_size=1, max_size=12))
def test_every_pulse_carries_the_last_entry_before_it(gaps_ms: list[int]) -> None:
    rows = [read(at, n) for n, at in enumerate(np.cumsum(gaps_ms).tolist()) if at < 2000]
    record = outcome(scenario_with(), rows)
    told = record.told["at_ns"]

    for start, entry in zip(
        record.effects["start_ns"].tolist(), record.effects["entry"].tolist(), strict=True
    ):
        assert told[entry] <= start
        assert entry + 1 == len(told) or told[entry + 1] > start
