"""An address that noise is easily taken for."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.suspect import Overrides, Suspect
from radiosim.scenario import Scenario
from radiosim.scenario.checks.link import poor_pattern
from radiosim.scenario.pipes import good_addresses


def suspects(case: Case) -> Iterator[Suspect]:
    """Addresses against the advice (PS1 note 16); no run shows what they cost."""
    scenario = case.scenario
    for name, unit in scenario.transmitter.items():
        reason = poor_pattern(unit.address_octets)
        if not reason:
            continue
        better = _all_better(scenario)
        yield Suspect(
            what=f"noise is easily taken for {name}'s address",
            where=f"transmitter.{name}.address",
            why=f"{reason}; noise that passes for a frame is not simulated, so that no figure "
            "shows it",
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


def _all_better(scenario: Scenario) -> Overrides:
    """Addresses of all transmitters: those of pipes 1 to 5 have their first bytes in common."""
    pipes = {name: unit.pipe for name, unit in scenario.transmitter.items()}
    found = good_addresses(pipes, scenario.radio.address_bytes)
    return tuple(f"transmitter.{name}.address={address}" for name, address in found.items())
