"""Findings about noise that is taken for frames or addresses (rule D6)."""

from collections.abc import Iterator

from radiosim.findings.case import Case, Overrides
from radiosim.findings.proof import Suspect
from radiosim.measure.summary import NoiseFigures, Summary
from radiosim.radio.noise_frames import noise_frames_per_hour
from radiosim.scenario import Scenario
from radiosim.scenario.checks.link_checks import good_addresses, poor_pattern
from radiosim.scenario.noise import LIKELY_PER_HOUR, noise_per_hour

LONGEST_CRC, LONGEST_ADDRESS = 2, 5
"""Bytes that such radios can have (facts 1)."""


def noise_passes(case: Case) -> Iterator[Suspect]:
    """Addresses and CRC so short that random bits match them; closed form shows it."""
    scenario, radio = case.scenario, case.scenario.radio
    per_hour = noise_per_hour(scenario)
    cures = tuple(_longer(scenario))
    if per_hour is None or per_hour < LIKELY_PER_HOUR or not cures:
        return
    name = _noisiest(case.summary)
    if name is None:
        return
    key = "crc_bytes" if radio.crc_bytes < LONGEST_CRC else "address_bytes"
    crc = f"a {radio.crc_bytes}-byte CRC" if radio.crc_bytes else "no CRC"
    yield Suspect(
        what="noise passes for frames of the link",
        where=f"radio.{key}",
        why=f"{radio.address_bytes}-byte addresses and {crc} let {per_hour:.3g} through "
        "an hour to each address (closed form); each brings random values and feeds the failsafe",
        figure=f"stream.{name}.noise.frames",
        removed=(*cures[0], "radio.noise_frames=true"),
        cures=cures,
        advice="on all units alike",
        measure="all transmitters off: print every frame that the receiver reads, for an hour",
        is_certain=True,
    )


def _noisiest(summary: Summary) -> str | None:
    """The stream with most frames out of noise; None: none was counted."""
    streams = summary.figures.stream
    found = {n: s.noise.frames for n, s in streams.items() if isinstance(s.noise, NoiseFigures)}
    return max(found, key=lambda name: found[name], default=None)


def _longer(scenario: Scenario) -> Iterator[Overrides]:
    """Longer CRC, longer addresses, or both: what lets through less than the model reaches (H1)."""
    radio, bit_rate = scenario.radio, scenario.profile().bit_rate
    crc: Overrides = (f"radio.crc_bytes={LONGEST_CRC}",)
    address: Overrides = (f"radio.address_bytes={LONGEST_ADDRESS}",)
    if radio.address_bytes < LONGEST_ADDRESS:
        address = (*address, *_all_better(scenario, LONGEST_ADDRESS))
    for address_bytes, crc_bytes, lines in (
        (radio.address_bytes, LONGEST_CRC, crc),
        (LONGEST_ADDRESS, radio.crc_bytes, address),
        (LONGEST_ADDRESS, LONGEST_CRC, (*crc, *address)),
    ):
        left = noise_frames_per_hour(bit_rate, address_bytes, crc_bytes)
        if left * len(scenario.transmitter) < LIKELY_PER_HOUR:
            yield lines


def poor_address(case: Case) -> Iterator[Suspect]:
    """Addresses against the advice (PS1 note 16); no run shows what they cost."""
    scenario = case.scenario
    for name, unit in scenario.transmitter.items():
        reason = poor_pattern(unit.address_octets)
        if not reason:
            continue
        better = _all_better(scenario, scenario.radio.address_bytes)
        yield Suspect(
            what=f"noise is easily taken for {name}'s address",
            where=f"transmitter.{name}.address",
            why=f"{reason}; simulated noise has each pattern as often, so that no figure shows it",
            figure=f"stream.{name}.delivery_ratio",
            removed=better,
            cures=(better,),
            advice="levels that change often and unevenly, on all units alike; the longer, the "
            "better",
            measure="let the receiver listen with all transmitters off, CRC off, and count frames",
            better="more",
            is_certain=True,
        )
        return


def _all_better(scenario: Scenario, address_bytes: int) -> Overrides:
    """Addresses of all transmitters: those of pipes 1 to 5 have their first bytes in common."""
    pipes = {name: unit.pipe for name, unit in scenario.transmitter.items()}
    found = good_addresses(pipes, address_bytes)
    return tuple(f"transmitter.{name}.address={address}" for name, address in found.items())
