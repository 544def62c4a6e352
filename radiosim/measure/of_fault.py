"""What each output made of each fault of the scenario."""

import numpy as np

from radiosim.measure.tally import OutputFaultTally
from radiosim.registers.fault_kind import WATCHDOG
from radiosim.registers.fault_register import fault_kind
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import Fault
from radiosim.scenario.structs.output_table import Output, Preset
from radiosim.trace import Table
from radiosim.units import ns_from_ms, ns_from_s
from radiosim.vehicle.fold.program_state import FAILSAFE
from radiosim.vehicle.output_fold import OutputLog

NEVER = -1


def touches(fault: Fault, output: Output) -> bool:
    """Whether a fault can touch an output: a transmitter's its own, receiver's and air's all of
    them."""
    return fault.unit in ("receiver", "air", output.stream)


class FaultFold:
    """What one output makes of one fault, folded over its deeds.

    It carries on what was told last before the fault, the last live pulse, and entries into
    failsafe since the fault that may still come into effect.
    """

    def __init__(self, scenario: Scenario, fault: Fault, output: Output) -> None:
        self._output = output
        self._at_ns, self._over_ns = ns_from_s(fault.at_s), over_at_ns(scenario, fault)
        self._until_ns = ns_from_s(scenario.duration_s)
        self._detected_ns = self._recovered_ns = NEVER
        self._is_detecting = output.on_failsafe != "hold"
        self._in_force = NEVER
        self._entries = self._last_live_ns = 0
        self._waiting: list[tuple[int, int]] = []

    def take(self, output_log: OutputLog) -> None:
        """Some more deeds."""
        if self._is_detecting:
            self._await(output_log.told)
            self._detect(output_log.effects)
        if self._over_ns != NEVER and self._recovered_ns == NEVER and len(output_log.effects):
            self._recover(output_log.effects)

    def finish(self) -> OutputFaultTally:
        """The tally: no more deeds come."""
        if self._is_detecting and self._in_force == FAILSAFE:
            self._detected_ns = self._at_ns
        elif self._waiting and not isinstance(self._output.on_failsafe, Preset):
            self._detected_ns = self._off_ns(self._waiting[0][1])
        until_ns = self._until_ns if self._recovered_ns == NEVER else self._recovered_ns
        is_in_time = self._at_ns <= self._detected_ns < max(until_ns, self._at_ns + 1)
        return OutputFaultTally(
            action=action_of(self._output),
            reaction_ns=self._detected_ns - self._at_ns if is_in_time else NEVER,
            recovered_ns=NEVER
            if self._recovered_ns == NEVER
            else self._recovered_ns - self._over_ns,
        )

    def _await(self, told: Table) -> None:
        """Wait for every entry into failsafe since the fault; if it was on already, for nothing."""
        before = len(told)
        if before > 0 and told["at_ns"][-1] > self._at_ns:
            before = int(np.searchsorted(told["at_ns"], self._at_ns, side="right"))
        if before > 0:
            self._in_force = int(told["kind"][before - 1])
        if before < len(told) and self._in_force == FAILSAFE:
            self._find(self._at_ns)
            return
        if before < len(told):
            rows = before + np.flatnonzero(told["kind"][before:] == FAILSAFE)
            entries = (self._entries + rows).tolist()
            self._waiting += zip(entries, told["at_ns"][rows].tolist(), strict=True)
        self._entries += len(told)

    def _detect(self, effects: Table) -> None:
        """When the failsafe value of an entry is in effect, if that is known by now (rule F6)."""
        if isinstance(self._output.on_failsafe, Preset):
            while self._waiting:
                entry, _ = self._waiting[0]
                first = int(np.searchsorted(effects["entry"], entry))
                if first == len(effects):
                    return
                if effects["entry"][first] == entry:
                    self._find(int(effects["end_ns"][first]))
                    return
                # It was over before a pulse could carry it.
                self._waiting.pop(0)
            return
        first = len(effects)
        if self._waiting:
            first = int(np.searchsorted(effects["entry"], self._waiting[0][0]))
        live = np.flatnonzero(~np.isnan(effects["level"][:first]))
        if len(live):
            self._last_live_ns = int(effects["end_ns"][live[-1]])
        if self._waiting and first < len(effects):
            self._find(self._off_ns(self._waiting[0][1]))

    def _off_ns(self, told_ns: int) -> int:
        """When an output that was told to be off is so: its last pulse, and its controller's."""
        motor = self._output.motor
        loss_ns = 0 if motor is None else ns_from_ms(motor.signal_loss_ms)
        if self._output.kind != "servo":
            return told_ns + loss_ns
        return max(told_ns, self._last_live_ns) + loss_ns

    def _find(self, in_effect_ns: int) -> None:
        self._detected_ns = in_effect_ns
        self._is_detecting = False
        self._waiting.clear()

    def _recover(self, effects: Table) -> None:
        """Look for the first value in effect that was taken after the fault."""
        if effects["end_ns"][-1] < self._over_ns:
            return
        after = np.flatnonzero((effects["is_fresh"] == 1) & (effects["values_ns"] >= self._over_ns))
        if len(after):
            self._recovered_ns = int(effects["end_ns"][after[0]])


def action_of(output: Output) -> str:
    """What an output does on failsafe, in one word."""
    return "preset" if isinstance(output.on_failsafe, Preset) else output.on_failsafe


def over_at_ns(scenario: Scenario, fault: Fault) -> int:
    """When a fault is over, booting apart; NEVER if it stays for good.

    Another fault can end it, as power_on does power_off, or a watchdog.
    """
    kind, at_ns = fault_kind(fault.kind), ns_from_s(fault.at_s)
    if not kind.is_lasting:
        return at_ns
    ends_ns = [
        ns_from_s(other.at_s)
        for other in scenario.fault
        if other.kind in kind.ended_by and other.unit == fault.unit and other.at_s > fault.at_s
    ]
    if fault.for_s is not None:
        ends_ns.append(ns_from_s(fault.at_s + fault.for_s))
    unit = scenario.transmitter.get(fault.unit, scenario.receiver)
    if WATCHDOG in kind.ended_by and unit.watchdog_ms:
        ends_ns.append(at_ns + ns_from_ms(unit.watchdog_ms))
    return min(ends_ns, default=NEVER)
