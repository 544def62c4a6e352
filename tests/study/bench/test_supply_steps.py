"""The steps at the supply: worked out by hand, and held against runs."""

import math
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from radiosim.scenario import Scenario, parse
from radiosim.scenario.changed import changed
from radiosim.study.bench.step import Prediction
from radiosim.study.bench.supply_steps import RESTARTS, supply_chapter
from radiosim.vehicle.feedback import brownouts_of
from tests.examples import examples

BASE = """
duration_s = 8
radio.profile = "gfsk-1M"
air.loss = 0
receiver.read = "all"
receiver.boot_s = 0
receiver.board_ma = 30
receiver.supply = { voltage_v = 5, resistance_mohm = 900, brownout_v = 3, hysteresis_mv = 0 }
layout.stick.fields = [{ name = "pull", type = "u8" }, { name = "turn", type = "u8" }]
[transmitter.drive]
boot_s = 0
period_ms = 20
layout = "stick"
signals.pull = { kind = "steps", values = [0, 255], hold_s = 1.5 }
signals.turn = { kind = "steps", values = [0, 255], hold_s = 2.1 }
"""
LAMP = """
[output.lamp]
stream = "drive"
field = "pull"
kind = "pin"
load = { rest_ma = 10, moving_ma = 300, start_ma = 700, start_ms = 20 }
"""
RUDDER = """
[output.rudder]
stream = "drive"
field = "turn"
servo = {}
load = { rest_ma = 5, moving_ma = 200, start_ma = 600 }
"""


def scenario_of(*tables: str, **supply: Any) -> Scenario:
    lines = [f"receiver.supply.{key}={value}" for key, value in supply.items()]
    return parse(BASE + "".join(tables), overrides=lines)


def predicted(scenario: Scenario) -> dict[str, Prediction]:
    """What the steps say, by case."""
    chapter = supply_chapter(scenario)
    assert chapter is not None
    return {case.key: case.predicted[0] for step in chapter.steps for case in step.cases}


def ends(one: Prediction) -> tuple[float, float]:
    assert one.low is not None
    assert one.high is not None
    return one.low, one.high


def test_voltages_are_those_of_ohms_law() -> None:
    found = predicted(scenario_of(LAMP, RUDDER))

    # 5 V - 0.9 Ohm * (30 + 10 + 5) mA, and with one load at its start, or both.
    assert ends(found["supply.rest.receiver"]) == pytest.approx((4.9595, 4.9595))
    assert ends(found["supply.jump.lamp"]) == pytest.approx((4.3385, 4.3385))
    assert ends(found["supply.jump.rudder"]) == pytest.approx((4.424, 4.424))
    assert ends(found["supply.jump.all"]) == pytest.approx((3.803, 4.3385))


def test_a_capacitor_lets_it_fall_as_the_exponential_says() -> None:
    # 0.9 Ohm * 40,000 uF = 36 ms; the start ends after 20 ms, then 4.702 V is above what is left.
    low, _ = ends(predicted(scenario_of(LAMP, capacitance_uf=40_000))["supply.jump.lamp"])

    assert low == pytest.approx(4.343 + (4.964 - 4.343) * math.exp(-20 / 36))


def test_a_receiver_that_restarts_is_said_to() -> None:
    found = predicted(scenario_of(LAMP, RUDDER, brownout_v=4.4))

    assert found["supply.jump.lamp"].text.startswith(f"{RESTARTS}, under the 4.4 V")
    assert ends(found["supply.jump.lamp"])[1] == 4.4
    assert found["supply.jump.rudder"].text == ""
    assert found["supply.jump.all"].text.startswith(f"{RESTARTS}, ")
    between = predicted(scenario_of(LAMP, RUDDER, brownout_v=4.2))
    assert between["supply.jump.all"].text.startswith(f"{RESTARTS} where it falls")


@pytest.mark.parametrize("own", [LAMP.replace("load = {", 'load = { supply = "own",'), ""])
def test_without_a_load_on_the_receivers_supply_there_is_no_step(own: str) -> None:
    assert supply_chapter(scenario_of(own)) is None


def dips(scenario: Scenario, brownout_v: float) -> bool:
    """Whether a receiver with that level is brought down."""
    given_level = changed(scenario, (f"receiver.supply.brownout_v={brownout_v!r}",))
    return bool(brownouts_of(given_level, 0, "fast"))


LOADS = st.tuples(st.integers(60, 300), st.integers(0, 600), st.integers(1, 120)).map(
    lambda of: f"load = {{ moving_ma = {of[0]}, start_ma = {of[0] + of[1]}, start_ms = {of[2]} }}\n"
)
DRIVEN = (
    'kind = "pin"\n',
    "servo = { seconds_per_60deg = 0.1 }\n",
    "servo = { seconds_per_60deg = 0.02, travel_deg = 60 }\n",
    "motor = { idle_us = 1000 }\nlimit_us = [1000, 1800]\n",
)


@pytest.mark.slow
@given(
    driven=st.lists(st.tuples(st.sampled_from(DRIVEN), LOADS), min_size=1, max_size=2),
    farads_u=st.sampled_from([0, 0, 10_000, 200_000]),
)
@examples(40)
def test_a_run_falls_as_low_as_the_steps_say_and_no_lower(
    driven: list[tuple[str, str]], farads_u: int
) -> None:
    # A load on its own falls to the very voltage; several somewhere between two.
    tables = [
        f'[output.o{k}]\nstream = "drive"\nfield = "pull"\n{how}{load}'
        for k, (how, load) in enumerate(driven)
    ]
    scenario = scenario_of(*tables, capacitance_uf=farads_u)
    found = predicted(scenario)
    low, high = ends(found["supply.jump.all" if len(driven) > 1 else "supply.jump.o0"])
    rest, _ = ends(found["supply.rest.receiver"])
    assume(high + 0.002 < rest)

    assert not dips(scenario, low - 0.001)
    assert dips(scenario, high + 0.001)
