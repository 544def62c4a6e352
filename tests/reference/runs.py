"""Scenarios of one or two transmitters, as short as a reference check can have them."""

from radiosim.engine.simulate import simulate
from radiosim.scenario import parse
from radiosim.trace import Table, Trace

UP_AT_ONCE = """
radio.power_on_reset_ms = 0
radio.crystal_start_us = 0
"""
"""The receiver listens one settle time after the start."""


def run(text: str, *, start: int = 0) -> Trace:
    """The trace of one start of a scenario text."""
    return simulate(parse(text), start=start)


def of_stream(table: Table, stream: int) -> Table:
    """The rows of one stream."""
    return table[table["stream"] == stream]


def one_transmitter(
    profile: str,
    payload_bytes: int | None,
    *,
    keys: str = "",
    loss: float = 0.0,
    receiver: str = UP_AT_ONCE,
) -> str:
    """A scenario of one transmitter every 20 ms, without clock errors and a bus that only moves
    bytes.

    `payload_bytes`: None if `keys` says what it sends, and when.
    """
    shape = f"period_ms = 20\noffset_ms = 5\npayload_bytes = {payload_bytes}\n"
    if payload_bytes is None:
        shape = ""
    return f"""
duration_s = 0.3
radio.profile = "{profile}"
{receiver}
air.loss = {loss}
air.acknowledge_loss = 0
receiver.boot_s = 0
[transmitter.drive]
{shape}boot_s = 0
clock_ppm = 0
spi_hz = 8_000_000
spi_overhead_us = 0
{keys}
"""
