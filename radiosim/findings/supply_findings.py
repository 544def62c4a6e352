"""The finding about a receiver that its own outputs bring down (rule E4)."""

from collections.abc import Iterable, Iterator

from radiosim.counted import counted
from radiosim.findings.block import block_of
from radiosim.findings.case import Case, Changes, Overrides
from radiosim.findings.proof import Suspect
from radiosim.measure.summary import BrownoutFigures
from radiosim.safety import OWN_SUPPLY, STILL
from radiosim.scenario import Scenario
from radiosim.scenario.structs.supply_tables import Supply
from radiosim.vehicle.supply_limits import can_brown_out, enough_mohm, enough_uf, loads_of

FIGURE = "receiver.brownouts"


def browns_out(case: Case) -> Iterator[Suspect]:
    """Loads on the receiver's supply that pull it under the level of its reset."""
    supply, loads = case.scenario.receiver.supply, loads_of(case.scenario)
    found = case.summary.figures.receiver.brownouts_with
    if supply is None or not isinstance(found, tuple) or not found:
        return
    if not can_brown_out(case.scenario):
        return
    drew = dict.fromkeys(name for one in found for name in one.outputs if name in loads)
    own, others = _on_their_own(drew or loads), tuple(_others(case.scenario, supply))
    also = "; ".join(_tried(case, cure) for cure in others)
    yield Suspect(
        what="the receiver browns out: what its outputs draw pulls its supply too low",
        where="receiver.supply",
        why="; ".join(_why(one, supply, case.summary.starts) for one in found[:3]),
        figure=FIGURE,
        removed=_on_their_own(loads),
        cures=(own, _on_their_own(loads), *others),
        advice=f"{OWN_SUPPLY}; {also}" if also else OWN_SUPPLY,
        measure=f"{STILL}: an oscilloscope at the receiver's supply while all outputs jump at once",
        share=0.1,
    )


def _why(one: BrownoutFigures, supply: Supply, starts: int) -> str:
    among = f" in {starts} starts" if starts > 1 else ""
    who = " and ".join(one.outputs) or "the board"
    together = " together" if len(one.outputs) > 1 else ""
    return (
        f"{counted(one.times, 'time')}{among} as {who} drew{together}: {one.drawn_ma:.4g} mA in "
        f"all through {supply.resistance_mohm:g} mOhm leave {max(0.0, one.settles_v):.3g} V of "
        f"the {supply.brownout_v:g} V that it needs"
    )


def _on_their_own(names: Iterable[str]) -> Overrides:
    return tuple(f'output.{name}.load.supply="own"' for name in names)


def _others(scenario: Scenario, supply: Supply) -> Iterator[Overrides]:
    """A capacitor that carries all that can start at once, and a supply of less resistance."""
    size_uf = enough_uf(scenario, supply)
    if size_uf is not None:
        yield (f"receiver.supply.capacitance_uf={size_uf}",)
    yield (f"receiver.supply.resistance_mohm={enough_mohm(scenario, supply)}",)


def _tried(case: Case, cure: Overrides) -> str:
    """What else was tried on the same starts, and what it leaves."""
    changes = Changes(pasted=block_of((case.given, cure)))
    left = [case.value(FIGURE, changes, start) or 0 for start in case.starts(FIGURE)]
    says = counted(round(max(left)), "brown-out") if max(left) else "none"
    return f"{cure[0]}, tried on the same starts, leaves {says}"
