"""What looks wrong in a scene but can be simulated: warnings, each with its path."""

from collections.abc import Iterator

from radiosim.radio.time_on_air import bits_ns
from radiosim.scenario.checks.link import RETRY_STEP_US, poor_pattern
from radiosim.scenario.structs.output import Output, Preset
from radiosim.scenario.structs.scene import Scenario, SceneFile
from radiosim.signals import Counter
from radiosim.units import ns_from_us

LONGEST_RETRY_DELAY_US = 4000
"""PS 7.4.2."""
PRINTED_ANSWERS = {
    "gfsk-2M": ((250, 15), (500, 32)),
    "gfsk-1M": ((250, 5), (500, 32)),
    "gfsk-250k": ((500, 0), (750, 8), (1000, 16), (1250, 24), (1500, 32)),
}
"""Retry delay in us and the longest acknowledgement payload printed for it, with 5-byte addresses.

Source: PS 7.4.2 (S); 250 kbit/s PS table 18 (rows M). Tighter than the rule by which a delay is
refused.
"""
_BAND = {"gfsk-2M": (2, 82)}
_BAND_BELOW_2M = (1, 82)
"""Channels that stay inside 2400 to 2483.5 MHz with clocks of 60 ppm (facts 10, derived)."""
_INSTANTS = ("power_on", "reset", "radio_reset")


def cautions(file: SceneFile, scenario: Scenario) -> tuple[str, ...]:
    """Warnings of a completed scene, as `path: text`."""
    return (
        *_of_channel(scenario),
        *_of_addresses(file, scenario),
        *_of_retries(scenario),
        *_of_answers(scenario),
        *_of_lengths(scenario),
        *_of_failsafe(scenario),
        *_of_outputs(file, scenario),
        *_of_faults(scenario),
    )


def _of_channel(scenario: Scenario) -> Iterator[str]:
    low, high = _BAND.get(scenario.radio.profile, _BAND_BELOW_2M)
    if not low <= scenario.radio.channel <= high:
        yield (
            f"radio.channel: {scenario.radio.channel} may leave the band of 2400 to 2483.5 MHz "
            f"({low} to {high} stay inside); check your local rules"
        )


def _of_addresses(file: SceneFile, scenario: Scenario) -> Iterator[str]:
    first_with: dict[str, str] = {}
    for name, unit in scenario.transmitter.items():
        first = first_with.setdefault(unit.address, name)
        if first != name:
            yield (
                f"transmitter.{name}.address: is transmitter.{first}'s too: each takes the "
                "other's acknowledgements for its own"
            )
        reason = poor_pattern(unit.address_octets)
        if reason and file.transmitter[name].address is not None:
            yield f"transmitter.{name}.address: noise is easily taken for it: {reason}"


def _of_retries(scenario: Scenario) -> Iterator[str]:
    first_with: dict[float, str] = {}
    for name, unit in scenario.transmitter.items():
        if unit.acknowledge is not True or not unit.retry_limit:
            continue
        path = f"transmitter.{name}.retry_delay_us"
        delay_us = unit.retry_delay_us
        if delay_us % RETRY_STEP_US or delay_us > LONGEST_RETRY_DELAY_US:
            yield (
                f"{path}: {delay_us:g} is no delay that radios know: steps of {RETRY_STEP_US} up "
                f"to {LONGEST_RETRY_DELAY_US}"
            )
        first = first_with.setdefault(delay_us, name)
        if first != name:
            yield (
                f"{path}: {delay_us:g} is transmitter.{first}'s too: two that collide once "
                "collide on every retry"
            )


def _of_answers(scenario: Scenario) -> Iterator[str]:
    """Acknowledgements longer than the printed limits, or not waited for."""
    asked = {name: unit for name, unit in scenario.transmitter.items() if unit.acknowledge is True}
    profile = scenario.profile()
    address_bits = 8 * (profile.preamble_bytes + scenario.radio.address_bytes)
    needed_ns = bits_ns(address_bits, profile.bit_rate)
    if asked and needed_ns > ns_from_us(profile.acknowledge_window_us):
        yield (
            f"radio.acknowledge_window_us: {profile.acknowledge_window_us:g} is over before an "
            f"answer's address is ({needed_ns / 1000:g} us): no acknowledgement is ever heard"
        )
    printed = PRINTED_ANSWERS.get(scenario.radio.profile)
    if printed is None or scenario.radio.bit_rate is not None:
        return
    answer_bytes = scenario.receiver.acknowledge_payload_bytes
    for name, unit in asked.items():
        allowed = [most for delay_us, most in printed if delay_us <= unit.retry_delay_us]
        if not allowed or answer_bytes > allowed[-1]:
            fitting = next(delay_us for delay_us, most in printed if answer_bytes <= most)
            yield (
                f"transmitter.{name}.retry_delay_us: {unit.retry_delay_us:g} is below the printed "
                f"limit for acknowledgements of {answer_bytes} bytes: {fitting}"
            )


def _of_lengths(scenario: Scenario) -> Iterator[str]:
    length = scenario.radio.payload_length
    for name, unit in scenario.transmitter.items():
        if length != "own" and unit.payload_length not in ("link", length):
            yield (
                f"transmitter.{name}.payload_length: {unit.payload_length} is not the receiver's "
                f"({length}): none of its frames is ever received"
            )


def _of_failsafe(scenario: Scenario) -> Iterator[str]:
    for name, failsafe in scenario.failsafe.items():
        unit = scenario.transmitter[name]
        if unit.period_ms is not None and failsafe.timeout_ms <= unit.period_ms:
            yield (
                f"failsafe.{name}.timeout_ms: {failsafe.timeout_ms:g} is no longer than "
                f"transmitter.{name}.period_ms ({unit.period_ms:g}): it trips between frames"
            )
        watched = failsafe.watch_field
        if watched and not isinstance(unit.signals[watched], Counter):
            yield (
                f"failsafe.{name}.watch_field: {watched!r} is not fed by a counter: failsafe "
                "comes on whenever its value rests"
            )


def _of_outputs(file: SceneFile, scenario: Scenario) -> Iterator[str]:
    for name, output in scenario.output.items():
        path = f"output.{name}"
        is_dead = name in file.output and output.stream not in scenario.failsafe
        if is_dead and output.on_failsafe != "hold":
            yield f"{path}.on_failsafe: never happens: {output.stream} has no failsafe"
        if output.kind == "servo":
            yield from _of_clipping(path, output)


def _of_clipping(path: str, output: Output) -> Iterator[str]:
    low, high = output.limit_us
    pulses = {"at_start": output.at_start}
    if isinstance(output.on_failsafe, Preset):
        pulses["on_failsafe.preset_us"] = output.on_failsafe.preset_us or low
    for key, pulse_us in pulses.items():
        if pulse_us != "none" and not low <= pulse_us <= high:
            yield f"{path}.{key}: {pulse_us:g} is cut to limit_us, {low:g} to {high:g}"


def _of_faults(scenario: Scenario) -> Iterator[str]:
    for number, fault in enumerate(scenario.fault):
        path = f"fault[{number}]"
        if fault.at_s >= scenario.duration_s:
            yield (
                f"{path}.at_s: {fault.at_s:g} is never reached: a start lasts "
                f"{scenario.duration_s:g} s"
            )
        if fault.for_s is not None and fault.kind in _INSTANTS:
            yield f"{path}.for_s: has no effect: {fault.kind} happens at one instant"
