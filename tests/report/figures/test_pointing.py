"""The pointing figure shows every servo that follows a hand, in its own worst seconds."""

import numpy as np
import pytest

from radiosim.engine.simulate import simulate
from radiosim.report.figures import pointing
from radiosim.scenario import parse
from radiosim.trace import Trace
from radiosim.vehicle.vehicle import VehicleRecord, run_vehicle

SERVO = "servo = { travel_deg = 180, over_us = [500, 2500], seconds_per_60deg = 0.12 }"
SCENARIO = f"""
duration_s = 30
radio.profile = "gfsk-1M"
failsafe.head = {{ timeout_ms = 300 }}
air.loss = 0.05
[layout.head_v1]
fields = [
  {{ name = "pan", type = "i16", scale = 0.1, min = -90.0, max = 90.0 }},
  {{ name = "tilt", type = "i16", scale = 0.1, min = -45.0, max = 45.0 }},
]
[transmitter.head]
layout = "head_v1"
period_ms = 20
[transmitter.head.signals]
pan = {{ kind = "sine", period_s = 2, amplitude = 80 }}
tilt = {{ kind = "sine", period_s = 5, amplitude = 20 }}
[output.tilt]
stream = "head"
field = "tilt"
on_failsafe = {{ preset_us = 1500 }}
{SERVO}
[output.pan]
stream = "head"
field = "pan"
on_failsafe = {{ preset_us = 1500 }}
{SERVO}
[output.lamp]
stream = "head"
field = "pan"
on_failsafe = {{ preset_us = 1500 }}
"""
BROWNOUT = "fault=[{at_s=12, for_s=0.4, kind='brownout', unit='receiver'}]"
SILENT = "fault=[{at_s=12, for_s=17, kind='power_off', unit='head'}]"


def run(*overrides: str) -> tuple[Trace, VehicleRecord]:
    given = parse(SCENARIO, "pointing.toml", overrides=overrides)
    trace = simulate(given, start=0, engine="reference")
    return trace, run_vehicle(trace)


def data_of(trace: Trace, vehicle: VehicleRecord) -> pointing.PointingData:
    data = pointing.pointing_data(trace, vehicle)
    assert data is not None
    return data


def test_every_servo_is_shown_the_one_that_is_furthest_off_first() -> None:
    data = data_of(*run())

    assert [servo.output for servo in data.servos] == ["pan", "tilt"]
    assert data.servos[0].most_deg > data.servos[1].most_deg
    assert pointing.figure_of(data).title.startswith("pan stands ")
    assert "; tilt, " in pointing.figure_of(data).title


def test_angles_and_errors_are_those_of_the_trace() -> None:
    trace, vehicle = run()

    for servo in data_of(trace, vehicle).servos:
        effects = vehicle.outputs[servo.output].effects
        at_s = effects["end_ns"] / 1e9
        inside = effects[(at_s >= servo.at_s[0] - 1e-4) & (at_s <= servo.at_s[-1] + 1e-4)]
        error = np.abs(inside["wanted"] - inside["angle"])

        assert np.asarray(servo.servo_deg, float) == pytest.approx(inside["angle"], abs=0.006)
        assert np.asarray(servo.wanted_deg, float) == pytest.approx(inside["wanted"], abs=0.006)
        assert servo.most_deg == pytest.approx(error.max(), abs=0.001)
        assert servo.median_deg == pytest.approx(np.median(error), abs=0.001)
        assert servo.most_deg == pytest.approx(
            np.nanmax(np.abs(effects["wanted"] - effects["angle"])[50:]), abs=0.001
        ), "the worst of all that follows whole seconds of following"
        assert servo.lost_s == ()


def test_seconds_without_pulses_are_not_the_ones_that_are_shown() -> None:
    trace, vehicle = run(BROWNOUT)

    ends_s = vehicle.outputs["tilt"].effects["end_ns"] / 1e9
    assert np.diff(ends_s).max() > 0.3
    for servo in data_of(trace, vehicle).servos:
        assert servo.lost_s == ()
        assert not servo.at_s[0] < 12.2 < servo.at_s[-1]


def test_the_way_back_after_a_break_is_told_where_it_is_not_drawn() -> None:
    trace, vehicle = run("fault=[{at_s=12, for_s=2.25, kind='power_off', unit='head'}]")
    data = data_of(trace, vehicle)
    servo = data.servos[0]
    effects = vehicle.outputs[servo.output].effects
    live = effects[effects["is_live"] == 1]
    largest = np.nanmax(np.abs(live["wanted"] - live["angle"]))

    # Failsafe has it stand at neutral, and the hand is elsewhere by then.
    assert largest > 1.5 * servo.most_deg
    assert "without a break" in pointing.figure_of(data).title
    assert f"near breaks, which are not drawn, up to {largest:.1f}" in pointing.figure_of(data).text


def test_where_pulses_fail_nothing_is_drawn() -> None:
    trace, vehicle = run(BROWNOUT, "duration_s=14")
    short = data_of(trace, vehicle)
    trace, vehicle = run(
        "fault=[{at_s=3, for_s=0.4, kind='brownout', unit='receiver'}]", "duration_s=6"
    )

    assert all(servo.lost_s == () for servo in short.servos)
    for servo in data_of(trace, vehicle).servos:
        ((first_s, last_s),) = (span for span in servo.lost_s if span[1] - span[0] > 0.2)
        assert 3.0 <= first_s < 3.1
        inside = [k for k, at_s in enumerate(servo.at_s) if first_s <= at_s <= last_s]
        assert all(servo.servo_deg[k] is None for k in inside if servo.wanted_deg[k] is None)
        assert any(servo.wanted_deg[k] is None for k in inside)


def test_spans_in_failsafe_are_marked() -> None:
    trace, vehicle = run(SILENT, "duration_s=18")
    (servo, _) = data_of(trace, vehicle).servos

    assert servo.lost_s == ()
    trace, vehicle = run("fault=[{at_s=2, for_s=2, kind='power_off', unit='head'}]", "duration_s=6")
    for shown in data_of(trace, vehicle).servos:
        assert any(2.2 < first < 2.5 and last > 3.9 for first, last in shown.lost_s)
        assert "not following" in pointing.figure_of(data_of(trace, vehicle)).draw().wide_svg


@pytest.mark.slow
def test_at_most_a_few_are_drawn_and_all_are_told() -> None:
    outputs = ", ".join(f"s{k} = {{ stream = 'head', field = 'pan', {SERVO} }}" for k in range(6))
    given = parse(SCENARIO, "many.toml", overrides=(f"output={{ {outputs} }}", "duration_s=8"))
    trace = simulate(given, start=0, engine="reference")
    drawn = pointing.figure_of(data_of(trace, run_vehicle(trace)))

    assert len(drawn.data["servos"]) == 6
    assert all(f"s{k}, " in drawn.text for k in range(6))
    assert f"Drawn are the {pointing.MOST_SHOWN}" in drawn.text
    assert sum(f">s{k}</text>" in drawn.draw().wide_svg for k in range(6)) == pointing.MOST_SHOWN


def test_a_link_without_servos_has_no_such_figure() -> None:
    given = parse(
        SCENARIO, "lamp.toml", overrides=("output={ lamp = { stream='head', field='pan' } }",)
    )
    trace = simulate(given, start=0, engine="reference")

    assert pointing.pointing_data(trace, run_vehicle(trace)) is None
