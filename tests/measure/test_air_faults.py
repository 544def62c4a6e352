"""Jams and transmitters out of range: they silence a link, and no trip that follows is a
nuisance."""

import pytest

from radiosim.engine.simulate import simulate
from radiosim.measure import summarise
from radiosim.scenario import parse
from radiosim.trace import COLLISION, OUT_OF_RANGE

SCENARIO = """
duration_s = 9
radio.profile = "gfsk-1M"
air.loss = 0
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
transmitter.head = { period_ms = 23, payload_bytes = 4, retry_delay_us = 1750 }
failsafe.drive = { timeout_ms = 250 }
failsafe.head = { timeout_ms = 250 }
receiver.read = "all"
fault = [{ at_s = 4, for_s = 2, kind = "%s", unit = "%s" }]
"""


@pytest.mark.parametrize(
    ("kind", "unit", "silent", "fate"),
    [
        ("jam", "air", {"drive", "head"}, COLLISION),
        ("out_of_range", "air", {"drive", "head"}, OUT_OF_RANGE),
        ("out_of_range", "drive", {"drive"}, OUT_OF_RANGE),
    ],
)
def test_a_fault_on_the_air_silences_whom_it_hits(
    kind: str, unit: str, silent: set[str], fate: int
) -> None:
    trace = simulate(parse(SCENARIO % (kind, unit)))
    figures = summarise(trace).figures

    names = ("drive", "head")
    inside = trace.attempts[
        (trace.attempts["end_ns"] > 4 * 10**9) & (trace.attempts["start_ns"] < 6 * 10**9)
    ]
    for number, name in enumerate(names):
        mine = inside[inside["stream"] == number]
        assert ((mine["fate"] == fate).all()) == (name in silent)
    (fault,) = figures.faults
    assert set(fault.outputs) == silent
    for name in names:
        failsafe = figures.stream[name].failsafe
        assert failsafe is not None
        assert failsafe.trips_on_fault == (name in silent)
        assert failsafe.nuisance_trips == 0
    for name in silent:
        reaction_ms = fault.outputs[name].reaction_ms
        assert reaction_ms is not None
        assert 200 < reaction_ms < 300
