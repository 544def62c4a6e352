"""What noise that passes for frames does to failsafe and outputs (rule D6)."""

from typing import Any

import numpy as np
import pytest

from radiosim.engine.simulate import Engine, simulate
from radiosim.measure import summarise
from radiosim.measure.summary import NoiseFigures
from radiosim.scenario import parse
from radiosim.trace import FIRST_NOISE, Trace
from radiosim.vehicle.fold.program_state import FAILSAFE, WRITTEN
from radiosim.vehicle.vehicle import run_vehicle

SILENT = """
duration_s = 60
radio.profile = "gfsk-1M"
radio.bit_rate = 100_000_000
radio.address_bytes = 3
radio.crc_bytes = 0
radio.noise_frames = true
[layout.small]
fields = [
  { name = "count", type = "u8" },
  { name = "throttle", type = "i16", scale = 0.001, min = -1.0, max = 1.0 },
]
[transmitter.drive]
layout = "small"
acknowledge = false
period_ms = 20
start_s = 59.5
[receiver]
read = "all"
[output.motor]
stream = "drive"
field = "throttle"
on_failsafe = { preset_us = 1500 }
servo = {}
"""
"""A transmitter that is never on, and noise that passes for a frame six times a second."""
TIMEOUT_MS = 50


def run(timer: str = "", engine: Engine = "auto") -> Trace:
    return simulate(
        parse(f"{SILENT}[failsafe.drive]\ntimeout_ms = {TIMEOUT_MS}\n{timer}"), engine=engine
    )


def noise_at(trace: Trace) -> list[int]:
    assert (trace.reads["frame"] <= FIRST_NOISE).all()
    instants: list[int] = trace.reads["read_ns"].tolist()
    return instants


def ended(instants: list[int], timeout_ns: int) -> int:
    """How often silence ends that has outlasted the timeout, the first silence included."""
    return 1 + int((np.diff(instants) > timeout_ns).sum())


def test_noise_ends_failsafe_and_drives_the_output_to_any_place() -> None:
    trace = run()
    record = run_vehicle(trace)

    told = record.outputs["motor"].told
    written = told[told["kind"] == WRITTEN]
    # A pass that reads two writes once.
    assert 0.98 * len(noise_at(trace)) < len(written) <= len(noise_at(trace))
    assert len(written) > 200
    assert (written["is_live"] == 1).all()
    # Of the numbers that 16 bits hold, 1,001 of 65,536 are inside the range: nearly all are ends.
    ends = np.isin(written["level"], (1_000_000.0, 2_000_000.0))
    assert ends.mean() == pytest.approx(1 - 2_000 / 65_536, abs=0.04)
    assert 0.35 < (written["level"] == 2_000_000.0).mean() < 0.65
    trips = len(record.streams[0].entries)
    assert abs(trips - ended(noise_at(trace), TIMEOUT_MS * 1_000_000)) <= 3


def test_what_noise_says_is_no_value_of_the_hand() -> None:
    found = summarise(run()).figures

    motor, drive = found.output["motor"], found.stream["drive"]
    assert (motor.update_rate_hz, drive.read, drive.latency_ms.n) == (0, 0, 0)
    assert motor.age_ms.n == 0
    assert motor.servo_error_deg is not None
    assert motor.servo_error_deg.n > 0
    assert isinstance(drive.noise, NoiseFigures)
    assert drive.noise.frames > 200


@pytest.mark.parametrize(
    ("timer", "most"),
    [
        # Of 256 counts one is that of the frame before.
        ('watch_field = "count"', 1.0),
        # Near the middle is one of 655 numbers.
        ('resume_needs = { field = "throttle", within = 0.05 }', 0.01),
        # Ten frames within the timeout, six a second.
        ("resume_frames = 10", 0.0),
    ],
)
def test_what_failsafe_asks_for_keeps_noise_out(timer: str, most: float) -> None:
    trace = run(timer)

    told = run_vehicle(trace).outputs["motor"].told
    count = int((told["kind"] == WRITTEN).sum())
    assert count <= most * len(noise_at(trace))
    assert count > 0 or most < 1


def test_noise_feeds_a_timer_that_a_fault_starves() -> None:
    faults = 'fault = [{ at_s = 20, kind = "power_off", unit = "drive" }]\n'
    text = faults + SILENT.replace("start_s = 59.5", "start_s = 0")

    def on_s(noise: bool) -> tuple[Any, Any]:
        given = parse(
            f"{text}[failsafe.drive]\ntimeout_ms = {TIMEOUT_MS}\n",
            overrides=[f"radio.noise_frames={str(noise).lower()}"],
        )
        drive = summarise(simulate(given)).figures.stream["drive"]
        assert drive.failsafe is not None
        return drive.failsafe.seconds_on, drive.failsafe.trips_on_fault

    quiet_s, one = on_s(noise=False)
    noisy_s, many = on_s(noise=True)
    # About 40 s at six a second: each takes about its timeout from the failsafe.
    assert one == 1
    assert many > 100
    assert noisy_s == pytest.approx(quiet_s - many * TIMEOUT_MS / 1000, abs=4)


def test_compiled_folds_and_plain_ones_agree_on_what_noise_says() -> None:
    fast, slow = (
        summarise(run("resume_frames = 2", engine)).figures for engine in ("fast", "reference")
    )

    assert fast == slow
    record = [run_vehicle(run('watch_field = "count"', engine)) for engine in ("fast", "reference")]
    told = [found.outputs["motor"].told for found in record]
    assert told[0].tobytes() == told[1].tobytes()
    assert FAILSAFE in told[0]["kind"]
