"""What a supply carries in closed form, against Ohm's law and a capacitor's discharge.

Source: V = V0 - I R, and V' + (V - V') e^(-t/RC) (textbooks, from memory).
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.scenario import Scenario, parse
from radiosim.vehicle.supply_limits import CAPACITORS_UF, can_brown_out, enough_mohm, enough_uf
from tests.examples import examples

VOLTAGE_V, LEVEL_V, START_MS = 5.0, 4.5, 4.0


def supplied(resistance_mohm: int, moving_ma: int, start_ma: int) -> Scenario:
    """Two servos on a supply of 5 V that must not fall under 4.5 V."""
    load = f"load = {{ moving_ma = {moving_ma}, start_ma = {start_ma}, start_ms = {START_MS} }}"
    output = f"stream = 'drive', field = 'value', servo = {{ travel_deg = 90 }}, {load}"
    return parse(f"""
radio.profile = "gfsk-1M"
transmitter.drive = {{ period_ms = 20, payload_bytes = 4 }}
receiver.supply.voltage_v = {VOLTAGE_V}
receiver.supply.resistance_mohm = {resistance_mohm}
receiver.supply.brownout_v = {LEVEL_V}
output.one = {{ {output} }}
output.two = {{ {output} }}
""")


@pytest.mark.parametrize("start_ma", [200, 650, 1400])
def test_all_that_can_be_drawn_at_once_decides(start_ma: int) -> None:
    drawn_a = (supplied(1, 100, start_ma).receiver.board_ma + 2 * start_ma) / 1000
    most_mohm = math.floor(1000 * (VOLTAGE_V - LEVEL_V) / drawn_a)
    enough, too_much = (supplied(most_mohm + more, 100, start_ma) for more in (0, 1))

    assert not can_brown_out(enough)
    assert can_brown_out(too_much)
    assert too_much.receiver.supply is not None
    assert enough_mohm(too_much, too_much.receiver.supply) == most_mohm


@given(st.integers(400, 1500), st.integers(100, 300), st.integers(400, 1500))
@examples(100)
def test_the_smallest_capacitor_that_carries_a_start_is_named(
    resistance_mohm: int, moving_ma: int, start_ma: int
) -> None:
    weak = supplied(resistance_mohm, moving_ma, start_ma)
    supply, board_ma = weak.receiver.supply, weak.receiver.board_ma
    assert supply is not None
    ohm = resistance_mohm / 1000

    def settles_v(load_ma: float) -> float:
        return VOLTAGE_V - ohm * (board_ma + 2 * load_ma) / 1000

    def lasts(size_uf: float) -> bool:
        rests_v, under_v = settles_v(0), settles_v(start_ma)
        left = math.exp(-START_MS / 1000 / (ohm * size_uf * 1e-6))
        return under_v + (rests_v - under_v) * left >= LEVEL_V

    if not can_brown_out(weak):
        return
    fits = [size for size in CAPACITORS_UF if settles_v(moving_ma) > LEVEL_V and lasts(size)]
    assert enough_uf(weak, supply) == min(fits, default=None)
