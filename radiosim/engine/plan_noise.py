"""Noise that passes for frames in one start (rule D6): when, and what it looks like."""

from collections.abc import Iterator, Sequence

from radiosim.chance import NOISE, WORD, fraction_53, key_of, philox4x32
from radiosim.engine.plan_rows import NOISE_PASSES, Step
from radiosim.radio.noise_frames import waits_hours
from radiosim.scenario import Scenario
from radiosim.scenario.noise import noise_per_hour
from radiosim.trace import FIRST_NOISE
from radiosim.units import NS_PER_HOUR


def noise_steps(
    scenario: Scenario, start: int, addresses: Sequence[bytes], until_ns: int
) -> Iterator[Step]:
    """When the bits of noise make a frame, to each of the addresses, were it all that is heard.

    `addresses`: of the transmitters, in file order; those of one share their noise.
    """
    per_hour = noise_per_hour(scenario)
    if per_hour is None:
        return
    for stream, name in enumerate(scenario.transmitter):
        if addresses.index(addresses[stream]) != stream:
            continue
        key = key_of(scenario.seed, start, "noise", name)
        at_ns, number = 0, 0
        while True:
            a, b, c, _ = philox4x32(number & WORD, number >> 32, 0, NOISE, key.low, key.high)
            at_ns += 1 + round(waits_hours(fraction_53(a, b), per_hour) * NS_PER_HOUR)
            if at_ns >= until_ns:
                break
            yield Step(
                at_ns=at_ns,
                unit=len(addresses),
                kind=NOISE_PASSES,
                stream=stream,
                frame=FIRST_NOISE - number,
                asks=c & 1,
            )
            number += 1
