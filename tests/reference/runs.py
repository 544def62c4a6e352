"""Scenes of one or two senders, as short as a reference check can have them."""

from radiosim.engine.simulate import simulate
from radiosim.scenario import parse
from radiosim.trace import Table, Trace

UP_AT_ONCE = """
radio.power_on_reset_ms = 0
radio.crystal_start_us = 0
"""
"""The receiver listens one settle time after the start."""


def run(text: str, *, start: int = 0) -> Trace:
    """The trace of one start of a scene text."""
    return simulate(parse(text), start=start)


def of_stream(table: Table, stream: int) -> Table:
    """The rows of one stream."""
    return table[table["stream"] == stream]
