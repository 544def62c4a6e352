"""How a servo follows."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.scenario.structs.output_table import Servo
from radiosim.units import NS_PER_MS
from radiosim.vehicle.fold.values import angle_of, moved
from radiosim.vehicle.output_fold import dead_band_deg
from tests.servos import follow, state_of

# Facts of the trade, no source: 500–2500 us for 180 degrees, 0.12 s for 60 degrees.
SERVO = Servo(travel_deg=180.0, over_us=(500.0, 2500.0), seconds_per_60deg=0.12, dead_band_us=5.0)
PERIOD_NS = 20 * NS_PER_MS


def at(count: int) -> list[int]:
    return [PERIOD_NS * (k + 1) for k in range(count)]


@pytest.mark.parametrize(
    ("pulse_us", "degrees"), [(500, 0), (1500, 90), (2500, 180), (400, 0), (2600, 180)]
)
def test_a_pulse_points_to_an_angle_within_the_travel(pulse_us: float, degrees: float) -> None:
    assert angle_of(state_of(SERVO), pulse_us) == pytest.approx(degrees)


def test_a_servo_may_turn_the_other_way() -> None:
    reversed_ = Servo(over_us=(2500.0, 500.0))

    assert angle_of(state_of(reversed_), 2500) == 0
    assert angle_of(state_of(reversed_), 500) == 180
    assert dead_band_deg(reversed_) == dead_band_deg(SERVO)


def test_a_dead_band_is_an_angle() -> None:
    assert dead_band_deg(SERVO) == pytest.approx(0.45)


def test_ten_degrees_in_a_pulse_of_20_ms() -> None:
    # 0.12 s for 60 degrees: 500 degrees a second.
    angles = follow(at(5), [0.0, 35.0, 35.0, 35.0, 35.0], SERVO)

    # A pulse asks as it ends: the servo is under way one period later.
    assert angles == pytest.approx([0.0, 0.0, 10.0, 20.0, 30.0])


def test_it_starts_where_its_first_pulse_points() -> None:
    assert follow(at(3), [None, 120.0, 120.0], SERVO) == [None, 120.0, 120.0]


def test_it_does_not_follow_within_its_dead_band() -> None:
    assert follow(at(3), [90.0, 90.4, 90.4], SERVO) == [90.0, 90.0, 90.0]


def test_small_steps_add_up_until_they_leave_the_dead_band() -> None:
    assert follow(at(4), [90.0, 90.3, 90.6, 90.6], SERVO) == pytest.approx([90.0, 90.0, 90.0, 90.6])


def test_without_pulses_it_keeps_its_goal() -> None:
    assert follow(at(4), [90.0, 95.0, None, None], SERVO) == pytest.approx([90.0, 90.0, 95.0, 95.0])


@given(st.floats(0, 180), st.floats(0, 180), st.floats(0, 360))
def test_a_move_is_limited_and_never_overshoots(angle: float, target: float, most: float) -> None:
    after = moved(angle, target, most)

    assert abs(after - angle) <= most + 1e-9
    assert min(angle, target) - 1e-9 <= after <= max(angle, target) + 1e-9


@given(st.lists(st.floats(0, 180), min_size=1, max_size=40))
def test_it_never_turns_faster_than_it_can(targets: list[float]) -> None:
    angles = [angle or 0.0 for angle in follow(at(len(targets)), targets, SERVO)]

    assert all(abs(b - a) <= 10 + 1e-9 for a, b in pairwise(angles))
    assert all(0 <= angle <= 180 for angle in angles)
