"""Pulses and servos against the habits of the trade: common practice, no source.

1000 to 2000 us pulses, 1500 neutral, every 20 ms; 500 to 2500 us for 180 degrees; a small servo
turns 60 degrees in 0.12 s, 10 degrees a pulse; dead band 5 to 10 us; failsafe delays of 0.1 to 1 s.
"""

from itertools import pairwise
from pathlib import Path

import pytest

from radiosim.scenario import load
from radiosim.scenario.structs.output_table import Servo
from radiosim.trace import Table
from radiosim.units import ns_from_ms
from radiosim.vehicle.fold.values import angle_of
from radiosim.vehicle.vehicle import run_vehicle
from tests.reference.outside import PRACTICE, check, outside
from tests.reference.runs import UP_AT_ONCE, run
from tests.reference.sources import TRADE
from tests.servos import follow, state_of

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))
PULSE_MS = 20.0


def pulses(value: float) -> Table:
    """The pulses of an output of which only its stream is said, for a control from -1 to 1."""
    trace = run(f"""
duration_s = 1
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
receiver.clock_ppm = 0
output.wheel = {{ stream = "drive", field = "value" }}
[transmitter.drive]
boot_s = 0
period_ms = 20
payload_bytes = 2
clock_ppm = 0
signals.value = {{ kind = "constant", value = {value} }}
""")
    return run_vehicle(trace).outputs["wheel"].effects


@outside("pulse at -1, 0 and 1", source=TRADE.key, status=PRACTICE, unit="us")
@pytest.mark.parametrize(("value", "pulse_us"), [(-1, 1000), (0, 1500), (1, 2000)])
def test_pulses_go_from_1000_to_2000_us(value: float, pulse_us: float) -> None:
    check.near(pulses(value)["level"][-1] / 1000, pulse_us, within=0.001)


@outside("from pulse to pulse", source=TRADE.key, status=PRACTICE, unit="ms")
def test_pulses_come_every_20_ms() -> None:
    for first_ns, second_ns in pairwise(pulses(0)["start_ns"]):
        check.same((second_ns - first_ns) / 1e6, PULSE_MS)


@outside("angle at 500, 1500 and 2500 us", source=TRADE.key, status=PRACTICE, unit="deg")
@pytest.mark.parametrize(("pulse_us", "angle_deg"), [(500, 0), (1500, 90), (2500, 180)])
def test_180_degrees_take_500_to_2500_us(pulse_us: float, angle_deg: float) -> None:
    check.near(angle_of(state_of(Servo()), pulse_us), angle_deg, within=1e-9)


def followed(targets: list[float]) -> list[float]:
    """Angles of a servo of which nothing is said, pulse by pulse."""
    at_ns = [ns_from_ms(PULSE_MS * number) for number in range(len(targets))]
    return [angle for angle in follow(at_ns, targets, Servo()) if angle is not None]


@outside("turned from pulse to pulse", source=TRADE.key, status=PRACTICE, unit="deg")
def test_a_servo_turns_by_10_degrees_a_pulse() -> None:
    angles = followed([0.0, *[150.0] * 16])
    on_its_way = [angle for angle in angles if 0 < angle < 150]

    assert len(on_its_way) == 14
    for before, after in pairwise(on_its_way):
        check.near(after - before, 10.0, within=1e-9)


@outside("time to turn by 60 degrees", source=TRADE.key, status=PRACTICE, unit="s")
def test_a_servo_turns_by_60_degrees_in_a_tenth_of_a_second() -> None:
    # It hears of the new angle at the end of pulse 1.
    angles = followed([0.0, *[60.0] * 12])
    seconds = (angles.index(max(angles)) - 1) * PULSE_MS / 1000

    check.between(seconds, 0.10, 0.12, expected=0.12)


@outside("smallest step of a pulse that is followed", source=TRADE.key, status=PRACTICE, unit="us")
def test_steps_inside_the_dead_band_are_not_followed() -> None:
    def is_followed(step_us: float) -> bool:
        here, there = (angle_of(state_of(Servo()), us) for us in (1500, 1500 + step_us))
        return followed([here, there, there, there])[-1] != here

    smallest_us = next(step / 10 for step in range(200) if is_followed(step / 10))

    check.between(smallest_us, 5, 10, expected=5)


@outside("timeouts of the scenarios that ship", source=TRADE.key, status=PRACTICE, unit="ms")
def test_shipped_timeouts_are_those_of_the_trade() -> None:
    scenarios = [load(path) for path in SCENARIOS]
    timeouts_ms = [failsafe.timeout_ms for s in scenarios for failsafe in s.failsafe.values()]

    assert len(timeouts_ms) >= len(SCENARIOS)
    for timeout_ms in timeouts_ms:
        check.between(timeout_ms, 100, 1000)
