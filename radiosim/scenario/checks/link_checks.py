"""Checks of the link: profile, pipes, addresses, air format, retry delays, and the air."""

from collections.abc import Iterator, Mapping
from itertools import pairwise

from radiosim.edges import FARTHEST_M, LONGEST_S, NEAREST_M
from radiosim.radio.air_frame import (
    LONGEST_US,
    bits_ns,
    first_step_us,
    frame_bits,
    shortest_retry_delay_ns,
    with_step,
)
from radiosim.radio.profiles import MOST_SUPPLY_V, PROFILES, Profile, least_transmit_ma
from radiosim.scenario.checks.view import Found, View, unknown
from radiosim.scenario.key_paths import Path, nearest
from radiosim.scenario.problems import shown
from radiosim.scenario.structs.range_tables import Place, Range
from radiosim.scenario.structs.scenario_file import ScenarioFile
from radiosim.units import NS_PER_US, ns_from_us

SHARED_PIPES = range(1, 6)
"""Pipes whose addresses differ in the last byte alone (PS registers)."""

_IN_ORDER = (*SHARED_PIPES, 0)
# Patterns of our own that follow the address advice (PS1 note 16): levels change often and
# unevenly. The last bytes differ from each other in at least three bits.
_FIRST_BYTES = bytes.fromhex("B4 69 D2 3C")
_LAST_BYTES = {0: 0x29, 1: 0xC5, 2: 0x1A, 3: 0x9C, 4: 0x63, 5: 0xF6}
_FIRST_BYTES_OF_PIPE_0 = bytes.fromhex("8E 17 6B 4D")


def pipes_of(file: ScenarioFile) -> dict[str, int]:
    """Pipe of each transmitter: as given, else the next free one in file order, 1 to 5, then 0."""
    given = {unit.pipe for unit in file.transmitter.values()}
    free = iter([pipe for pipe in _IN_ORDER if pipe not in given])
    # More transmitters than pipes are refused elsewhere; here they only must not stop the rest.
    return {
        name: next(free, 0) if unit.pipe is None else unit.pipe
        for name, unit in file.transmitter.items()
    }


def octets_of(address: str | None, address_bytes: int) -> bytes | None:
    """The bytes of an address; None unless it is that many bytes in hex."""
    try:
        octets = bytes.fromhex(address or "")
    except ValueError:
        return None
    return octets if len(octets) == address_bytes else None


def addresses_of(file: ScenarioFile, pipes: Mapping[str, int]) -> dict[str, str]:
    """Address of each transmitter as hex: as given, else one with a good pattern for its pipe."""
    length = file.radio.address_bytes
    given = {
        name: octets
        for name, unit in file.transmitter.items()
        if (octets := octets_of(unit.address, length)) is not None
    }
    shared = [octets[:-1] for name, octets in given.items() if pipes[name] in SHARED_PIPES]
    first_bytes = shared[0] if shared else _FIRST_BYTES[1 - length :]
    taken = set(given.values())
    addresses: dict[str, str] = {}
    for name in file.transmitter:
        octets = given.get(name) or _made(pipes[name], first_bytes, length, taken)
        taken.add(octets)
        addresses[name] = octets.hex(" ").upper()
    return addresses


def _made(pipe: int, first_bytes: bytes, length: int, taken: set[bytes]) -> bytes:
    """An address that no other pipe has."""
    if pipe == 0:
        first_bytes = _FIRST_BYTES_OF_PIPE_0[1 - length :]
    last = _LAST_BYTES[pipe]
    while (octets := first_bytes + bytes([last])) in taken:
        last = (last + 0x35) % 256
    return octets


def good_addresses(pipes: Mapping[str, int], address_bytes: int) -> dict[str, str]:
    """An address with a good pattern for each name, by its pipe."""
    taken: set[bytes] = set()
    found = {}
    for name, pipe in pipes.items():
        octets = _made(pipe, _FIRST_BYTES[1 - address_bytes :], address_bytes, taken)
        taken.add(octets)
        found[name] = octets.hex(" ").upper()
    return found


def link_problems(view: View) -> Iterator[Found]:
    """Everything that keeps the radios from being one link."""
    name = view.file.radio.profile
    if name not in PROFILES:
        known = ", ".join(PROFILES)
        hint = nearest(name, PROFILES)
        yield ("radio", "profile"), f"must be one of {known}, got {shown(name)}{hint}"
    yield from _of_pipes(view.file)
    yield from _of_addresses(view.file)
    yield from _of_format(view.file)
    yield from _of_currents(view.file)
    if view.profile is not None:
        yield from _of_retry_delays(view.file, view.profile)


def _of_currents(file: ScenarioFile) -> Iterator[Found]:
    """Rows of currents that would radiate more than they draw."""
    for number, (power_dbm, drawn_ma) in enumerate(file.radio.transmit_ma or ()):
        least_ma = least_transmit_ma(power_dbm)
        if drawn_ma < least_ma:
            yield (
                ("radio", "transmit_ma", number, 1),
                f"must be >= {least_ma:.4g} at {power_dbm:g} dBm (more would be radiated than is "
                f"drawn, even at {MOST_SUPPLY_V:g} V), got {drawn_ma:g}",
            )


def _of_pipes(file: ScenarioFile) -> Iterator[Found]:
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


def _of_addresses(file: ScenarioFile) -> Iterator[Found]:
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


def _of_format(file: ScenarioFile) -> Iterator[Found]:
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
                'format is one per link; "flag" asks for no acknowledgement either',
            )
    if file.radio.crc_bytes == 0:
        yield (
            ("radio", "crc_bytes"),
            "must be 1 or 2 unless every transmitter has acknowledge = false, got 0",
        )


def acknowledgement_ns(file: ScenarioFile, profile: Profile) -> int:
    """How long an acknowledgement is on the air."""
    bits = frame_bits(
        file.receiver.acknowledge_payload_bytes,
        address_bytes=file.radio.address_bytes,
        crc_bytes=file.radio.crc_bytes,
        preamble_bytes=profile.preamble_bytes,
        control_bits=profile.control_bits,
    )
    return bits_ns(bits, profile.bit_rate)


def _of_retry_delays(file: ScenarioFile, profile: Profile) -> Iterator[Found]:
    """Rule D5: the acknowledgement must be over before the next attempt begins."""
    shortest_ns = shortest_retry_delay_ns(
        ns_from_us(profile.settle_us), acknowledgement_ns(file, profile), profile.retry_settle
    )
    for name, unit in file.transmitter.items():
        if unit.acknowledge is True and ns_from_us(unit.retry_delay_us) < shortest_ns:
            got = f"got {with_step(unit.retry_delay_us)}"
            yield ("transmitter", name, "retry_delay_us"), _too_short(shortest_ns, got)


def _too_short(shortest_ns: int, got: str) -> str:
    over = f"the acknowledgement is over ({shortest_ns / NS_PER_US:g} us)"
    fitting_us = first_step_us(shortest_ns)
    if fitting_us is not None:
        return f"must be >= {with_step(fitting_us)}, the first step after {over}, {got}"
    return (
        f"must be after {over}, and no radio knows such a delay: the last is "
        f"{with_step(LONGEST_US)}, {got}; set a "
        "faster radio.bit_rate, fewer receiver.acknowledge_payload_bytes, or acknowledge = "
        '"flag"'
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


MOST_POINTS = 250
"""Points of a track."""
MOST_INTERFERERS = 8


def air_problems(view: View) -> Iterator[Found]:
    """Tracks that go back in time, distances that are missing, interferers beyond number."""
    file = view.file
    yield from _of_range(file)
    for name, unit in file.transmitter.items():
        if unit.place is not None:
            path = ("transmitter", name, "place")
            if file.air.range is None:
                yield path, "must stand beside air.range, which says how the level falls"
            yield from _of_distance(path, unit.place)
    if len(file.interferer) > MOST_INTERFERERS:
        yield (
            ("interferer",),
            f"must be at most {MOST_INTERFERERS} interferers, got {len(file.interferer)}",
        )


def _of_range(file: ScenarioFile) -> Iterator[Found]:
    place = file.air.range
    if place is None:
        return
    path = ("air", "range")
    yield from _of_distance(path, place)
    if all(one is None for one in (place.distance_m, place.track, place.track_file)):
        without = [
            name
            for name, unit in file.transmitter.items()
            if unit.place is None or not _has_distance(unit.place)
        ]
        if without:
            yield (
                (*path, "distance_m"),
                f"must be given, or a track, for transmitter.{without[0]}",
            )
    if place.anchor is not None and place.anchor.transmitter is not None:
        where = (*path, "anchor", "transmitter")
        yield from unknown(
            where, "a transmitter", place.anchor.transmitter, tuple(file.transmitter)
        )


def _has_distance(place: Place) -> bool:
    return not (place.distance_m is None and place.track is None and place.track_file is None)


def _of_distance(path: Path, place: Place | Range) -> Iterator[Found]:
    given = [key for key in ("distance_m", "track") if getattr(place, key) is not None]
    if len(given) > 1:
        yield (*path, "track"), "must be left out beside distance_m"
    track = place.track
    if track is None:
        return
    where = (*path, "track_file" if place.track_file is not None else "track")
    if len(track) > MOST_POINTS:
        yield where, f"must have at most {MOST_POINTS} points, got {len(track)}: thin it out"
    for number, (seconds, metres) in enumerate(track):
        # A track from a file has not been judged by the structs.
        if not (0 <= seconds <= LONGEST_S and NEAREST_M <= metres <= FARTHEST_M):
            yield (
                where,
                f"must have times of 0 to {LONGEST_S:g} s and distances of {NEAREST_M:g} to "
                f"{FARTHEST_M:g} m, got [{seconds:g}, {metres:g}]",
            )
            return
        if number and seconds <= track[number - 1][0]:
            yield (
                where,
                f"must have times that go up, got {seconds:g} s after {track[number - 1][0]:g}",
            )
            return
