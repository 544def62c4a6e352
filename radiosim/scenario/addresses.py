"""Pipes and addresses: those that a scenario gives, and those that it leaves to us."""

from collections.abc import Mapping

from radiosim.scenario.structs.scenario_file import ScenarioFile

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
