from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.danger import (
    Danger,
    danger_of,
    danger_of_stream,
    must_stop,
    outputs_by_danger,
)
from radiosim.scenario.shipped import scenario_path
from tests.engines.random_scenarios import scenarios
from tests.examples import examples


@given(scenarios, st.data())
@examples(60, deadline=None)
def test_no_output_that_drives_stands_behind_one_that_does_not(
    scenario: Scenario, data: st.DataObject
) -> None:
    names = data.draw(st.permutations(list(scenario.output)))
    ordered = outputs_by_danger(scenario, names)
    ranks = [danger_of(name, scenario.output[name]) for name in ordered]
    assert sorted(ordered) == sorted(names)
    assert ranks == sorted(ranks)
    for one, next_one in pairwise(ordered):
        if danger_of(one, scenario.output[one]) == danger_of(next_one, scenario.output[next_one]):
            assert names.index(one) < names.index(next_one)
    for stream in scenario.transmitter:
        own = [
            rank
            for name, rank in zip(ordered, ranks, strict=True)
            if scenario.output[name].stream == stream
        ]
        assert danger_of_stream(scenario, stream) == min(own, default=Danger.LOOKS)


@pytest.mark.parametrize(
    ("name", "first", "last"),
    [
        ("culvert-crawler", {"left_track", "right_track"}, {"lamp", "pan", "tilt"}),
        ("harbour-tug", {"engine"}, {"rudder", "monitor"}),
        ("slow-loop", {"motor"}, {"steering", "pan"}),
        ("long-pipe", {"left_track", "right_track"}, set()),
    ],
)
def test_tracks_and_motors_come_before_what_looks(
    name: str, first: set[str], last: set[str]
) -> None:
    scenario = load(scenario_path(name))
    ordered = outputs_by_danger(scenario, scenario.output)
    assert set(ordered[: len(first)]) == first
    assert last <= set(ordered[len(first) :])


@pytest.mark.parametrize("has_timer", [True, False])
@pytest.mark.parametrize("has_motor", [True, False])
@pytest.mark.parametrize("on_failsafe", ["hold", "off"])
def test_only_what_holds_without_a_motor_may_go_on(
    has_timer: bool, has_motor: bool, on_failsafe: str
) -> None:
    motor = "motor = {}" if has_motor else ""
    timer = "failsafe.drive.timeout_ms = 250" if has_timer else ""
    given = parse(f"""
radio.profile = "gfsk-1M"
transmitter.drive = {{ period_ms = 20, payload_bytes = 4 }}
{timer}
[output.arm]
stream = "drive"
field = "value"
on_failsafe = "{on_failsafe}"
{motor}
""")

    may_go_on = has_timer and on_failsafe == "hold" and not has_motor
    assert must_stop(given) == (() if may_go_on else ("arm",))
