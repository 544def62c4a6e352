"""Whether noise that passes for frames is simulated, and how often it does (rule D6)."""

from collections.abc import Iterator

from radiosim.radio.noise_frames import noise_frames_per_hour
from radiosim.scenario.structs.scenario_file import Scenario

LIKELY_PER_HOUR = 1e-3
"""Rarer than that the model does not reach (rule H1)."""


def noise_per_hour(scenario: Scenario) -> float | None:
    """How often noise passes for a frame to one address, an hour of listening; None: not simulated.

    By its default it is where all addresses together get one in 1,000 h.
    """
    radio = scenario.radio
    per_hour = noise_frames_per_hour(
        scenario.profile().bit_rate, radio.address_bytes, radio.crc_bytes
    )
    addresses = {unit.address_octets for unit in scenario.transmitter.values()}
    if radio.noise_frames == "likely":
        return per_hour if len(addresses) * per_hour >= LIKELY_PER_HOUR else None
    return per_hour if radio.noise_frames else None


def noise_notes(scenario: Scenario) -> Iterator[str]:
    """What a drill cannot hold to a bound: noise that feeds a timer while its stream is silent."""
    per_hour = noise_per_hour(scenario)
    if per_hour is None or not scenario.failsafe:
        return
    yield (
        f"NOISE passes for a frame {per_hour:.3g} times an hour to each address (closed form) and "
        "feeds the failsafe of its stream: bounds count from the last frame, be it noise"
    )
