"""What looks wrong in a scenario but can be simulated: warnings, each with its path."""

import math
from collections.abc import Iterator

from radiosim.counted import counted
from radiosim.radio.air_frame import LONGEST_US, STEP_US, bits_ns, neighbours, step_of, with_step
from radiosim.radio.band import inside
from radiosim.registers.fault_register import ended_by, fault_kind
from radiosim.safety import LOCAL_RULES
from radiosim.scenario.checks.link_checks import poor_pattern
from radiosim.scenario.structs.failsafe_and_fault import Failsafe, Fault
from radiosim.scenario.structs.output_table import Output, Preset
from radiosim.scenario.structs.scenario_file import Scenario, ScenarioFile
from radiosim.scenario.structs.transmitter_table import Transmitter
from radiosim.scenario.traffic import sending_ns
from radiosim.signals import Counter
from radiosim.units import NS_PER_MS, ns_from_ms, ns_from_us

PRINTED_ACKNOWLEDGEMENTS = {
    "gfsk-2M": ((250, 15), (500, 32)),
    "gfsk-1M": ((250, 5), (500, 32)),
    "gfsk-250k": ((500, 0), (750, 8), (1000, 16), (1250, 24), (1500, 32)),
}
"""Retry delay in us and the longest acknowledgement payload printed for it, with 5-byte addresses.

Source: PS 7.4.2 (S); 250 kbit/s PS table 18 (rows M). Tighter than the rule by which a delay is
refused.
"""
_WHEN_BUSY = {
    "skip": "samples are skipped then",
    "wait": "samples are sent late then",
    "queue": "frames queue up then",
    "replace": "samples are replaced by newer ones then",
}


def cautions(file: ScenarioFile, scenario: Scenario) -> tuple[str, ...]:
    """Warnings of a completed scenario, as `path: text`."""
    return (
        *_of_channel(scenario),
        *_of_addresses(file, scenario),
        *_of_retries(scenario),
        *_of_acknowledgements(scenario),
        *_of_lengths(scenario),
        *_of_periods(scenario),
        *_of_failsafe(scenario),
        *_of_outputs(file, scenario),
        *_of_faults(scenario),
    )


def _of_channel(scenario: Scenario) -> Iterator[str]:
    channels = inside(scenario.profile())
    if scenario.radio.channel not in channels:
        stay = f"{channels[0]} to {channels[-1]} stay inside" if channels else "none stays inside"
        yield (
            f"radio.channel: {scenario.radio.channel} may leave the band of 2400 to 2483.5 MHz "
            f"({stay}); {LOCAL_RULES}"
        )


def _of_addresses(file: ScenarioFile, scenario: Scenario) -> Iterator[str]:
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
        if step_of(delay_us) is None:
            yield (
                f"{path}: {delay_us:g} is no delay that radios know: steps of {STEP_US} up to "
                f"{LONGEST_US}; {neighbours(delay_us)}"
            )
        first = first_with.setdefault(delay_us, name)
        if first != name:
            yield (
                f"{path}: {with_step(delay_us)} is transmitter.{first}'s too: two that collide "
                "once collide on every retry"
            )


def _of_acknowledgements(scenario: Scenario) -> Iterator[str]:
    """Acknowledgements longer than the printed limits, or not waited for."""
    asked = {name: unit for name, unit in scenario.transmitter.items() if unit.acknowledge is True}
    profile = scenario.profile()
    address_bits = 8 * (profile.preamble_bytes + scenario.radio.address_bytes)
    needed_ns = bits_ns(address_bits, profile.bit_rate)
    if asked and needed_ns > ns_from_us(profile.acknowledge_window_us):
        yield (
            f"radio.acknowledge_window_us: {profile.acknowledge_window_us:g} is over before an "
            f"acknowledgement's address is ({needed_ns / 1000:g} us): no acknowledgement is ever "
            f"heard"
        )
    printed = PRINTED_ACKNOWLEDGEMENTS.get(scenario.radio.profile)
    if printed is None or scenario.radio.bit_rate is not None:
        return
    acknowledgement_bytes = scenario.receiver.acknowledge_payload_bytes
    for name, unit in asked.items():
        allowed = [most for delay_us, most in printed if delay_us <= unit.retry_delay_us]
        if not allowed or acknowledgement_bytes > allowed[-1]:
            fitting = next(delay_us for delay_us, most in printed if acknowledgement_bytes <= most)
            yield (
                f"transmitter.{name}.retry_delay_us: {with_step(unit.retry_delay_us)} is below the "
                f"printed limit for acknowledgements of {acknowledgement_bytes} bytes: "
                f"{with_step(fitting)}"
            )


def _of_lengths(scenario: Scenario) -> Iterator[str]:
    length = scenario.radio.payload_length
    for name, unit in scenario.transmitter.items():
        if length != "own" and unit.payload_length not in ("link", length):
            yield (
                f"transmitter.{name}.payload_length: {unit.payload_length} is not the receiver's "
                f"({length}): none of its frames is ever received"
            )


def _of_periods(scenario: Scenario) -> Iterator[str]:
    """Periods in which a frame with all its retries, or even one attempt, cannot be sent."""
    for name, unit in scenario.transmitter.items():
        shortest_ms = unit.shortest_ms
        if shortest_ms is None or unit.pacing == "after_send":
            continue
        one_ns, all_ns = sending_ns(scenario, name, unit)
        if max(one_ns, all_ns) <= ns_from_ms(shortest_ms):
            continue
        is_one = one_ns > ns_from_ms(shortest_ms)
        what = "one attempt" if is_one else "a frame with all its retries"
        took_ms = (one_ns if is_one else all_ns) / NS_PER_MS
        then = "samples are taken late then" if unit.pacing == "elapsed" else None
        yield (
            f"transmitter.{name}.period_ms: {shortest_ms:g}{_with(unit, 'less')} is shorter than "
            f"{what} takes ({_above(took_ms, shortest_ms)} ms): "
            f"{then or _WHEN_BUSY[unit.when_busy]}"
        )


def _with(unit: Transmitter, sign: str) -> str:
    """How a period came about that is drawn, beside its number."""
    return f" ({unit.period_ms:g} {sign} dither_ms)" if unit.dither_ms else ""


def _above(value: float, limit: float) -> str:
    """A value in three digits, or in as many as show that it is above a limit."""
    digits = 3
    while float(f"{value:.{digits}g}") <= limit < value:
        digits += 1
    return f"{value:.{digits}g}"


def _of_failsafe(scenario: Scenario) -> Iterator[str]:
    for name, failsafe in scenario.failsafe.items():
        if failsafe.timeout_ms >= 1000 * scenario.duration_s:
            yield (
                f"failsafe.{name}.timeout_ms: {failsafe.timeout_ms:g} is not shorter than a start "
                f"({scenario.duration_s:g} s): it never trips"
            )
        unit = scenario.transmitter[name]
        yield from _of_ticks(scenario, name, failsafe)
        longest_ms = unit.longest_ms
        if longest_ms is not None and failsafe.timeout_ms <= longest_ms:
            told = f"{longest_ms:g}{' with dither_ms' if unit.dither_ms else ''}"
            yield (
                f"failsafe.{name}.timeout_ms: {failsafe.timeout_ms:g} is no longer than "
                f"transmitter.{name}.period_ms ({told}): it trips between frames"
            )
        watched = failsafe.watch_field
        if watched and not isinstance(unit.signals[watched], Counter):
            yield (
                f"failsafe.{name}.watch_field: {watched!r} is not fed by a counter: failsafe "
                "comes on whenever its value rests"
            )


def _of_ticks(scenario: Scenario, name: str, failsafe: Failsafe) -> Iterator[str]:
    """A timeout that the program's clock can count so short that frames come too late for it."""
    tick_ms, period_ms = (
        scenario.receiver.clock_tick_ms,
        scenario.transmitter[name].longest_ms or 0.0,
    )
    if not ns_from_ms(tick_ms):
        return
    ticks = ns_from_ms(failsafe.timeout_ms) // ns_from_ms(tick_ms)
    if period_ms < failsafe.timeout_ms and ticks * tick_ms <= period_ms:
        yield (
            f"failsafe.{name}.timeout_ms: {failsafe.timeout_ms:g} is "
            f"{counted(ticks, 'whole step')} of the receiver's clock (receiver.clock_tick_ms "
            f"{tick_ms:g}), and can be over {ticks * tick_ms:g} ms after a frame: it trips between "
            f"frames (transmitter.{name}.period_ms {period_ms:g})"
        )


def _of_outputs(file: ScenarioFile, scenario: Scenario) -> Iterator[str]:
    for name, output in scenario.output.items():
        path = f"output.{name}"
        is_dead = name in file.output and output.stream not in scenario.failsafe
        if is_dead and output.on_failsafe != "hold":
            yield f"{path}.on_failsafe: never happens: {output.stream} has no failsafe"
        if output.kind == "servo":
            yield from _of_clipping(path, output)
            yield from _of_idle(path, output)


def _own_pulses(output: Output) -> Iterator[tuple[str, float]]:
    """Keys whose pulse an output gives without any frame, and the pulse, us."""
    if output.at_start != "none":
        yield "at_start", output.at_start
    preset = output.on_failsafe
    if isinstance(preset, Preset) and preset.preset_us is not None:
        yield "on_failsafe.preset_us", preset.preset_us


def _of_clipping(path: str, output: Output) -> Iterator[str]:
    low, high = output.limit_us
    for key, pulse_us in _own_pulses(output):
        if not low <= pulse_us <= high:
            yield f"{path}.{key}: {pulse_us:g} is cut to limit_us, {low:g} to {high:g}"


def _of_idle(path: str, output: Output) -> Iterator[str]:
    """Pulses without any frame at which the motor does not stand still."""
    if output.motor is None or output.motor.idle_us is None:
        return
    low, high = output.limit_us
    for key, pulse_us in _own_pulses(output):
        given_us = min(max(pulse_us, low), high)
        if given_us != output.motor.idle_us:
            yield (
                f"{path}.{key}: the motor runs on at {given_us:g}: it stands still at "
                f"{output.motor.idle_us:g} (motor.idle_us)"
            )


def _of_faults(scenario: Scenario) -> Iterator[str]:
    for number, fault in enumerate(scenario.fault):
        path = f"fault[{number}]"
        if fault.at_s >= scenario.duration_s:
            yield (
                f"{path}.at_s: {fault.at_s:g} is never reached: a start lasts "
                f"{scenario.duration_s:g} s"
            )
        if fault.for_s is not None and not fault_kind(fault.kind).is_lasting:
            yield f"{path}.for_s: has no effect: {fault.kind} happens at one instant"
        yield from _of_power(scenario, path, fault)
        for earlier, other in enumerate(scenario.fault[:number]):
            if _overlap(scenario, fault, other):
                yield (
                    f"{path}: overlaps fault[{earlier}], {fault.kind} of {fault.unit} too: "
                    "the two count as one"
                )
                break


def _of_power(scenario: Scenario, path: str, fault: Fault) -> Iterator[str]:
    """Faults of a unit that is not switched on yet, or is switched on already."""
    transmitter = scenario.transmitter.get(fault.unit)
    start_s = 0.0 if transmitter is None else transmitter.start_s
    ended = ended_by(fault.kind)
    if fault.at_s < start_s and not ended:
        yield (
            f"{path}.at_s: {fault.at_s:g} is before transmitter.{fault.unit}.start_s "
            f"({start_s:g}): nothing is on yet that could have {fault.kind}"
        )
    if ended and fault.at_s >= start_s:
        is_off = any(
            other.kind in ended
            and other.unit == fault.unit
            and other.at_s < fault.at_s <= _end_s(scenario, other)
            for other in scenario.fault
        )
        if not is_off:
            yield f"{path}.kind: has no effect: {fault.unit} is on at {fault.at_s:g} s"


def _overlap(scenario: Scenario, fault: Fault, other: Fault) -> bool:
    """Whether two faults are of one kind and unit, and one begins before the other ends."""
    if (fault.kind, fault.unit) != (other.kind, other.unit):
        return False
    if not fault_kind(fault.kind).is_lasting:
        return False
    return fault.at_s < _end_s(scenario, other) and other.at_s < _end_s(scenario, fault)


def _end_s(scenario: Scenario, fault: Fault) -> float:
    """When a fault is over, or another fault ends it, as a power_on a power_off."""
    end_s = math.inf if fault.for_s is None else fault.at_s + fault.for_s
    enders = fault_kind(fault.kind).ended_by
    ends = (f.at_s for f in scenario.fault if f.kind in enders and f.unit == fault.unit)
    return min([end_s, *(at_s for at_s in ends if at_s > fault.at_s)])
