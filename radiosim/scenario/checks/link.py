"""What all radios must agree on: profile, pipes, addresses, air format, retry delays."""

from collections.abc import Iterator
from itertools import pairwise

from radiosim.radio.profiles import PROFILES, Profile
from radiosim.radio.retry_delay import STEP_US, with_step
from radiosim.radio.time_on_air import bits_ns, frame_bits, shortest_retry_delay_ns
from radiosim.scenario.checks.view import Found, View
from radiosim.scenario.paths import nearest
from radiosim.scenario.pipes import SHARED_PIPES, octets_of, pipes_of
from radiosim.scenario.problems import shown
from radiosim.scenario.structs.scenario import SceneFile
from radiosim.units import NS_PER_US, ns_from_us


def problems(view: View) -> Iterator[Found]:
    """Everything that keeps the radios from being one link."""
    name = view.file.radio.profile
    if name not in PROFILES:
        known = ", ".join(PROFILES)
        hint = nearest(name, PROFILES)
        yield ("radio", "profile"), f"must be one of {known}, got {shown(name)}{hint}"
    yield from _of_pipes(view.file)
    yield from _of_addresses(view.file)
    yield from _of_format(view.file)
    if view.profile is not None:
        yield from _of_retry_delays(view.file, view.profile)


def _of_pipes(file: SceneFile) -> Iterator[Found]:
    taken: dict[int, str] = {}
    for name, unit in file.transmitter.items():
        if unit.pipe is None:
            continue
        first = taken.setdefault(unit.pipe, name)
        if first != name:
            yield (
                ("transmitter", name, "pipe"),
                f"must be a pipe of its own, got {unit.pipe}, which transmitter.{first} has",
            )


def _of_addresses(file: SceneFile) -> Iterator[Found]:
    length = file.radio.address_bytes
    shared: tuple[str, bytes] | None = None
    pipes = pipes_of(file)
    # Pipe 1 first: the others are measured against it.
    for name in sorted(file.transmitter, key=lambda name: pipes[name] != 1):
        unit = file.transmitter[name]
        if unit.address is None:
            continue
        path = ("transmitter", name, "address")
        octets = octets_of(unit.address, length)
        if octets is None:
            yield (
                path,
                f"must be {length} bytes in hex (radio.address_bytes), got {shown(unit.address)}",
            )
        elif pipes[name] in SHARED_PIPES:
            shared = shared or (name, octets[:-1])
            if octets[:-1] != shared[1]:
                yield (
                    path,
                    f"must begin with {shared[1].hex(' ').upper()} as transmitter.{shared[0]}'s "
                    f"(pipes 1 to 5 differ in the last byte alone), got {shown(unit.address)}",
                )


def _of_format(file: SceneFile) -> Iterator[Found]:
    with_control = [
        name for name, unit in file.transmitter.items() if unit.acknowledge is not False
    ]
    if not with_control:
        return
    for name, unit in file.transmitter.items():
        if unit.acknowledge is False:
            yield (
                ("transmitter", name, "acknowledge"),
                f"must not be false beside transmitter.{with_control[0]}, which is not: the air "
                'format is one per link; "flag" asks for no answer either',
            )
    if file.radio.crc_bytes == 0:
        yield (
            ("radio", "crc_bytes"),
            "must be 1 or 2 unless every transmitter has acknowledge = false, got 0",
        )


def acknowledgement_ns(file: SceneFile, profile: Profile) -> int:
    """How long an acknowledgement is on the air."""
    bits = frame_bits(
        file.receiver.acknowledge_payload_bytes,
        address_bytes=file.radio.address_bytes,
        crc_bytes=file.radio.crc_bytes,
        preamble_bytes=profile.preamble_bytes,
        control_bits=profile.control_bits,
    )
    return bits_ns(bits, profile.bit_rate)


def _of_retry_delays(file: SceneFile, profile: Profile) -> Iterator[Found]:
    """Rule D5: the answer must be over before the next attempt begins."""
    shortest_ns = shortest_retry_delay_ns(
        ns_from_us(profile.settle_us), acknowledgement_ns(file, profile), profile.retry_settle
    )
    step_ns = STEP_US * NS_PER_US
    fitting_us = -(-shortest_ns // step_ns) * STEP_US
    for name, unit in file.transmitter.items():
        if unit.acknowledge is True and ns_from_us(unit.retry_delay_us) < shortest_ns:
            yield (
                ("transmitter", name, "retry_delay_us"),
                f"must be >= {with_step(fitting_us)}, the first step after the "
                f"acknowledgement is over ({shortest_ns / NS_PER_US:g} us), "
                f"got {with_step(unit.retry_delay_us)}",
            )


def poor_pattern(octets: bytes) -> str:
    """Why noise is often taken for an address; empty if it is a good one.

    Source: PS1 note 16: not all bytes equal, not a single change of level, not a continuation of
    the preamble's toggling.
    """
    bits = "".join(f"{octet:08b}" for octet in octets)
    changes = sum(before != after for before, after in pairwise(bits))
    if len(set(octets)) == 1:
        return "all its bytes are equal"
    if changes <= 1:
        return "its level changes only once"
    if octets[0] in (0x55, 0xAA):
        return "it goes on toggling as the preamble does"
    return ""
