"""Figures of the outputs of one start, and of the faults that struck it."""

import math
from collections.abc import Sequence

import numpy as np

from radiosim.engine.jit import JitBackend
from radiosim.engine.plan import Plan
from radiosim.marks import rule
from radiosim.measure.histogram import (
    COUNTS,
    Ramps,
    Spread,
    add_ramp,
    add_span,
    close_ramps,
    of_ramps,
    of_spread,
)
from radiosim.measure.tally import OutputFaultTally, OutputTally
from radiosim.registers.fault_kind import WATCHDOG
from radiosim.registers.fault_register import fault_kind
from radiosim.registers.figure_register import MICRODEGREES
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import Fault
from radiosim.scenario.structs.output_table import Output, Preset
from radiosim.trace import Table
from radiosim.units import ns_from_ms, ns_from_s
from radiosim.vehicle.fold.output_effects import EffectRecord
from radiosim.vehicle.fold.program_state import FAILSAFE
from radiosim.vehicle.output_fold import OutputLog

NEVER = -1


class OutputFiguresState:
    """What one output has come to."""

    fresh: int
    latency: Spread
    age: Ramps
    error: Spread
    """Between hand and servo, millionths of a degree."""
    is_ageing: int
    """A value of the hand is in effect; what follows is of it."""
    first_age_ns: int
    values_ns: int
    stop_ns: int
    """When the pin floats, if nothing else comes first."""
    held_ns: int
    """From when on a fresh value has been in effect without change; −1: none is."""
    longest_hold_ns: int
    """−1: there was none."""


@rule
def end_ageing(f: OutputFiguresState, until_ns: int) -> None:
    """The value in effect stays no longer."""
    if f.is_ageing == 1:
        add_ramp(f.age, f.first_age_ns, until_ns - f.values_ns)
    f.is_ageing = 0


@rule
def age(f: OutputFiguresState, effect: EffectRecord, is_live: bool) -> None:
    """One value follows another; the same values go on ageing."""
    until_ns = min(effect.end_ns, f.stop_ns)
    if f.is_ageing == 1 and is_live and effect.values_ns == f.values_ns and until_ns < f.stop_ns:
        f.age.n += 1
        return
    end_ageing(f, until_ns)
    if is_live:
        f.is_ageing = 1
        f.values_ns = effect.values_ns
        f.first_age_ns = effect.end_ns - effect.values_ns


@rule
def end_hold(f: OutputFiguresState, until_ns: int) -> None:
    """What was held since it was fresh has changed, at a later instant than that."""
    if f.held_ns != NEVER and until_ns > f.held_ns:
        f.longest_hold_ns = max(f.longest_hold_ns, until_ns - f.held_ns)
        f.held_ns = NEVER


@rule
def take_effect(f: OutputFiguresState, effect: EffectRecord) -> None:
    """Something else is in effect."""
    is_live = effect.is_live == 1 and not math.isnan(effect.level)
    age(f, effect, is_live)
    if f.stop_ns <= effect.end_ns or effect.is_fresh == 1 or not is_live:
        end_hold(f, min(effect.end_ns, f.stop_ns))
    f.stop_ns = effect.stop_ns
    if not math.isnan(effect.wanted):
        add_span(f.error, abs(effect.wanted - effect.angle) * MICRODEGREES)
    if effect.is_fresh == 1:
        f.fresh += 1
        add_span(f.latency, effect.end_ns - effect.sampled_ns)
        if f.held_ns == NEVER:
            f.held_ns = effect.end_ns


def fold_effects(f: OutputFiguresState, effects: Sequence[EffectRecord]) -> None:
    """Take some more effects, in order."""
    for i in range(len(effects)):
        take_effect(f, effects[i])


def fold_end(f: OutputFiguresState, until_ns: int) -> None:
    """No more effects come."""
    end_ageing(f, min(until_ns, f.stop_ns))
    end_hold(f, min(until_ns, f.stop_ns))
    close_ramps(f.age)


class OutputFigures:
    """What one output adds to the figures, folded over its deeds; exact, but quantiles."""

    def __init__(self, plan: Plan, output: Output, backend: JitBackend) -> None:
        self._plan, self._output, self._machine = plan, output, backend
        self._state = backend.record(OutputFiguresState, COUNTS)
        backend.set(self._state, held_ns=NEVER, longest_hold_ns=NEVER)
        self._fold = backend.entry(fold_effects)
        self._end = backend.entry(fold_end)

    def take(self, output_log: OutputLog) -> None:
        """Some more deeds."""
        self._fold(self._state, output_log.rows)

    def finish(self) -> OutputTally:
        """The tally: no more deeds come."""
        backend, state, output = self._machine, self._state, self._output
        self._end(state, self._plan.until_ns)
        longest_ns = int(backend.get(state, "longest_hold_ns"))
        has_servo = output.servo is not None
        return OutputTally(
            stream=output.stream,
            refresh_hz=output.refresh_hz if output.kind == "servo" else None,
            fresh=int(backend.get(state, "fresh")),
            longest_hold_ns=None if longest_ns == NEVER else longest_ns,
            latency=of_spread(backend.get(state, "latency"), backend),
            age=of_ramps(backend.get(state, "age"), backend),
            servo_error=of_spread(backend.get(state, "error"), backend) if has_servo else None,
        )


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
