"""What each output made of each fault of the scene."""

import numpy as np

from radiosim.measure.tally import OutputFaultTally
from radiosim.scenario import Scenario
from radiosim.scenario.structs.fault import INSTANT_KINDS, Fault
from radiosim.scenario.structs.output import Output, Preset
from radiosim.units import ns_from_ms, ns_from_s
from radiosim.vehicle.output import OutputRecord
from radiosim.vehicle.program import FAILSAFE

NEVER = -1


def tally_fault(
    scenario: Scenario, fault: Fault, records: dict[str, OutputRecord]
) -> dict[str, OutputFaultTally]:
    """By output that the fault can touch: a sender's own, or all of them."""
    at_ns = ns_from_s(fault.at_s)
    over_ns, until_ns = over_at_ns(scenario, fault), ns_from_s(scenario.duration_s)
    tallies = {}
    for name, output in scenario.output.items():
        if fault.unit not in ("receiver", output.stream):
            continue
        record = records[name]
        recovered_ns = _recovered(record, over_ns)
        tallies[name] = OutputFaultTally(
            action=action_of(output),
            detected_ns=_detected(
                record, output, at_ns, until_ns if recovered_ns == NEVER else recovered_ns
            ),
            recovered_ns=NEVER if recovered_ns == NEVER else recovered_ns - over_ns,
        )
    return tallies


def action_of(output: Output) -> str:
    """What an output does on failsafe, in one word."""
    return "preset" if isinstance(output.on_failsafe, Preset) else output.on_failsafe


def over_at_ns(scenario: Scenario, fault: Fault) -> int:
    """When a fault is over, booting apart; NEVER if it stays for good.

    A watchdog ends a hang.
    """
    at_ns = ns_from_s(fault.at_s)
    if fault.kind in INSTANT_KINDS:
        return at_ns
    over_ns = NEVER if fault.for_s is None else ns_from_s(fault.at_s + fault.for_s)
    if fault.kind == "power_off":
        ons = [ns_from_s(f.at_s) for f in scenario.fault if _switches_on(f, fault)]
        return min([*ons, *([] if over_ns == NEVER else [over_ns])], default=NEVER)
    if fault.kind == "hang":
        unit = scenario.transmitter.get(fault.unit, scenario.receiver)
        bitten_ns = at_ns + ns_from_ms(unit.watchdog_ms)
        if unit.watchdog_ms and (over_ns == NEVER or bitten_ns < over_ns):
            return bitten_ns
    return over_ns


def _switches_on(other: Fault, fault: Fault) -> bool:
    """Whether another fault of the scene gives a unit its power back."""
    return other.kind == "power_on" and other.unit == fault.unit and other.at_s > fault.at_s


def _recovered(record: OutputRecord, over_ns: int) -> int:
    """First instant at which a value that was taken after the fault is in effect; or NEVER."""
    if over_ns == NEVER:
        return NEVER
    taken_ns = record.told.values_ns[record.entry]
    after = np.flatnonzero(record.is_fresh & (taken_ns >= over_ns))
    return int(record.end_ns[after[0]]) if len(after) else NEVER


def _detected(record: OutputRecord, output: Output, at_ns: int, until_ns: int) -> int:
    """From the fault to its failsafe value in effect, if that came before `until_ns`.

    Nothing at all if failsafe was on already.
    """
    told = record.told
    if output.on_failsafe == "hold":
        return NEVER
    in_force = int(np.searchsorted(told.at_ns, at_ns, side="right")) - 1
    if in_force >= 0 and told.kind[in_force] == FAILSAFE:
        return 0
    for entry in np.flatnonzero((told.kind == FAILSAFE) & (told.at_ns >= at_ns)).tolist():
        in_effect_ns = _failsafe_in_effect(record, output, entry)
        if in_effect_ns != NEVER:
            return in_effect_ns - at_ns if in_effect_ns < until_ns else NEVER
    return NEVER


def _failsafe_in_effect(record: OutputRecord, output: Output, entry: int) -> int:
    """When the failsafe value of one entry of `told` was in effect (rule F6)."""
    told_ns = int(record.told.at_ns[entry])
    if isinstance(output.on_failsafe, Preset):
        carrying = np.flatnonzero(record.entry == entry)
        return int(record.end_ns[carrying[0]]) if len(carrying) else NEVER
    loss_ns = 0 if output.motor is None else ns_from_ms(output.motor.signal_loss_ms)
    if output.kind != "servo":
        return told_ns + loss_ns
    before = record.end_ns[(record.entry < entry) & ~np.isnan(record.level)]
    return max(told_ns, int(before[-1]) if len(before) else 0) + loss_ns
