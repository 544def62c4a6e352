"""Scenarios that tunings are tried on."""

from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.shipped import shipped_scenario

TWO = """
seed = 3
duration_s = 5
starts = 2
radio.profile = "gfsk-1M"
air.loss = 0
receiver.boot_s = 0
receiver.read = "all"
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 6 }
transmitter.head = { boot_s = 0, period_ms = 23, payload_bytes = 4, retry_delay_us = 1250 }
failsafe.drive = { timeout_ms = 250 }
"""
ALONE = TWO.replace("transmitter.head", "#")


def two(*overrides: str) -> Scenario:
    """Two transmitters on a clear channel."""
    return parse(TWO, overrides=overrides)


def shipped(name: str, *overrides: str) -> Scenario:
    """A scenario that comes with the package."""
    found = shipped_scenario(name)
    assert found is not None
    return load(found.path, overrides)
