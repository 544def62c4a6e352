"""Two transmitters on one address: each takes the other's acknowledgements for its own (rule
B3)."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.pairs import pairs
from radiosim.findings.suspect import Suspect
from radiosim.scenario import Scenario
from radiosim.scenario.checks.link import poor_pattern

_STEP = 0x35


def suspects(case: Case) -> Iterator[Suspect]:
    """Pairs with one address; the rules alone show what follows."""
    scenario = case.scenario
    for first, second in pairs(scenario):
        one, other = (scenario.transmitter[name] for name in (first, second))
        if one.address != other.address:
            continue
        free = own_address(scenario, second)
        yield Suspect(
            what=f"{second} has {first}'s address: the receiver takes the frames of one for the "
            "other's, and each transmitter the other's acknowledgements for its own",
            where=f"transmitter.{second}.address",
            why="a frame counts as acknowledged that never arrived",
            figure=f"stream.{first}.delivery_ratio",
            removed=(free,),
            cures=((free,),),
            advice="an address of its own, in the firmware of the transmitter and of the receiver",
            measure=f"switch {first} off: what moves then is moved by {second}",
            better="more",
            is_certain=True,
        )


def own_address(scenario: Scenario, name: str) -> str:
    """A `KEY=VALUE` line that gives a transmitter an address that no other has."""
    octets = bytearray(scenario.transmitter[name].address_octets)
    taken = {unit.address_octets for unit in scenario.transmitter.values()}
    while bytes(octets) in taken or poor_pattern(bytes(octets)):
        octets[-1] = (octets[-1] + _STEP) % 256
        if bytes(octets) == scenario.transmitter[name].address_octets:
            break
    return f"transmitter.{name}.address={octets.hex(' ').upper()}"
