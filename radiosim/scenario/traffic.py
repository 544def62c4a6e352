"""How long a frame occupies its transmitter, its retries, and how many events there will be."""

import math
from collections.abc import Iterator

from radiosim.radio.air_frame import bits_ns, frame_bits, until_retry_ns, upload_ns, with_step
from radiosim.scenario.structs.scenario_file import Scenario
from radiosim.scenario.structs.transmitter_table import Transmitter
from radiosim.units import NS_PER_MS, NS_PER_S, ns_from_us


def sending_ns(scenario: Scenario, name: str, unit: Transmitter) -> tuple[int, int]:
    """From a sample until the transmitter is free: after one attempt, and after all (rule B)."""
    profile, radio = scenario.profile(), scenario.radio
    length = radio.payload_length if unit.payload_length == "link" else unit.payload_length
    payload_bytes = length if isinstance(length, int) else scenario.layout_of(name).size_bytes

    def on_air_ns(payload_bytes: int) -> int:
        bits = frame_bits(
            payload_bytes,
            address_bytes=radio.address_bytes,
            crc_bytes=radio.crc_bytes,
            preamble_bytes=profile.preamble_bytes,
            control_bits=0 if unit.acknowledge is False else profile.control_bits,
        )
        return bits_ns(bits, profile.bit_rate)

    settle_ns, frame_ns = ns_from_us(profile.settle_us), on_air_ns(payload_bytes)
    uploaded_ns = upload_ns(payload_bytes, unit.spi_hz, ns_from_us(unit.spi_overhead_us))
    ready_ns = ns_from_us(unit.prepare_us) + uploaded_ns + settle_ns
    if unit.acknowledge is not True:
        return ready_ns + frame_ns, ready_ns + frame_ns
    acknowledgement_ns = settle_ns + on_air_ns(scenario.receiver.acknowledge_payload_bytes)
    retry_ns = until_retry_ns(ns_from_us(unit.retry_delay_us), settle_ns, profile.retry_settle)
    one_ns = ready_ns + frame_ns + acknowledgement_ns + ns_from_us(profile.interrupt_us)
    return one_ns, ready_ns + (unit.retry_limit + 1) * (frame_ns + retry_ns)


def retries(scenario: Scenario) -> tuple[tuple[str, str], ...]:
    """(stream, how often and after what delay it tries again) of every transmitter."""
    return tuple(
        (name, _of(unit.retry_limit, unit.retry_delay_us) if unit.acknowledge is True else "none")
        for name, unit in scenario.transmitter.items()
    )


def _of(limit: int, delay_us: float) -> str:
    if not limit:
        return "none"
    return f"{limit}, {with_step(delay_us)} after {'each' if limit > 1 else 'the first'} attempt"


MOST_EVENTS = 1e12
"""Frames, pulses and the like of a whole run: about a day on one core."""
MOST_KEPT = 1e7
"""The same of one start whose rows are all kept, as a trace is: about a gigabyte."""


def events_a_second(scenario: Scenario) -> float:
    """Frames, pulses, works and spans that a second of the scenario has, without retries."""
    return math.fsum(_rates(scenario))


def _rates(scenario: Scenario) -> Iterator[float]:
    receiver = scenario.receiver
    for name, unit in scenario.transmitter.items():
        yield _frames_a_second(scenario, name, unit)
    for every_ms in (span.every_ms for spans in (receiver.work, receiver.deaf) for span in spans):
        yield 1e3 / every_ms
    for output in scenario.output.values():
        if output.kind == "servo":
            yield output.refresh_hz
            if output.smoothing_us_per_pass:
                yield 1e3 / (receiver.loop_ms + receiver.delay_ms)


def _frames_a_second(scenario: Scenario, name: str, unit: Transmitter) -> float:
    if unit.pacing != "after_send":
        return 1e3 / (unit.period_ms or 1.0)
    shortest_ns = (unit.pause_ms or 0.0) * NS_PER_MS + sending_ns(scenario, name, unit)[0]
    return NS_PER_S / max(shortest_ns, 1.0)


def too_much(scenario: Scenario) -> str:
    """Why a scenario is too large to be simulated, of its `duration_s`; empty if it is not."""
    rate, starts = events_a_second(scenario), scenario.starts
    if rate * starts * scenario.duration_s <= MOST_EVENTS:
        return ""
    return (
        f"must be at most {MOST_EVENTS / rate / starts:.3g} with {starts:,} starts that have "
        f"{rate:.3g} frames, pulses and the like a second ({MOST_EVENTS:.0e} in all take a day), "
        f"got {scenario.duration_s:g}"
    )


def latest_boot_s(scenario: Scenario) -> float:
    """When the last unit has booted, in seconds."""
    transmitters = (unit.start_s + unit.boot_s for unit in scenario.transmitter.values())
    return max(scenario.receiver.boot_s, *transmitters)
