"""Scenes that tunings are tried on."""

from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.shipped import shipped_scene

TWO = """
duration_s = 5
starts = 2
radio.profile = "gfsk-1M"
air.loss = 0
receiver.read = "all"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
transmitter.look = { period_ms = 23, payload_bytes = 4, retry_delay_us = 1500 }
failsafe.drive = { timeout_ms = 250 }
"""
ALONE = TWO.replace("transmitter.look", "#")


def two(*overrides: str) -> Scenario:
    """Two senders on a clear channel."""
    return parse(TWO, overrides=overrides)


def shipped(name: str, *overrides: str) -> Scenario:
    """A scene that comes with the package."""
    found = shipped_scene(name)
    assert found is not None
    return load(found.path, overrides)
