"""What the faults of one start led to, output by output, read off what outputs were told."""

from collections.abc import Sequence

import numpy as np
from msgspec.structs import replace

from radiosim.engine.plan import Plan, Struck, struck, struck_unit
from radiosim.engine.timeline import FOREVER_NS
from radiosim.measure.of_output import NEVER
from radiosim.measure.tally import Fate, FaultTally, OutputFaultTally
from radiosim.registers.fault_kind import FaultKind
from radiosim.registers.fault_register import fault_kind
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import Fault
from radiosim.scenario.structs.output_table import Output, Preset
from radiosim.trace import FIRST_NOISE, BrownoutRow, Table
from radiosim.units import ns_from_ms
from radiosim.vehicle.fold.program_state import FAILSAFE, STARTED, STOPPED, WRITTEN
from radiosim.vehicle.output_fold import OutputLog
from radiosim.vehicle.reaction_bound import bound_of


def touches(fault: Fault, output: Output) -> bool:
    """Whether a fault can touch an output: a transmitter's its own, receiver's and air's all of
    them."""
    return fault.unit in ("receiver", "air", output.stream)


def action_of(output: Output) -> str:
    """What an output does on failsafe, in one word."""
    return "preset" if isinstance(output.on_failsafe, Preset) else output.on_failsafe


def due_ns(scenario: Scenario, plan: Plan, name: str) -> int | None:
    """How long after its stream's last frame an output must be on failsafe; None: never.

    Where another stream can feed its timer, reads can hold up a pass, or outputs can bring the
    receiver down, what its own timer would need: it is due then, though nothing makes sure that it
    comes.
    """
    stream = scenario.output[name].stream
    timer = scenario.failsafe.get(stream)
    if timer is None:
        return None
    own = replace(
        scenario,
        failsafe={**scenario.failsafe, stream: replace(timer, fed_by="own")},
        receiver=replace(scenario.receiver, supply=None),
    )
    return bound_of(own, plan, name).total_ns or ns_from_ms(timer.timeout_ms)


class FaultFolds:
    """All faults of one start, folded over what its outputs do."""

    def __init__(self, scenario: Scenario, plan: Plan) -> None:
        dues = {n: due_ns(scenario, plan, n) for n in scenario.output if scenario.fault}
        self.is_any = bool(scenario.fault)
        self._brownouts = None if scenario.receiver.supply is None else plan.brownouts
        self._struck: list[tuple[Struck, ...]] = []
        self._folds: list[dict[str, FaultFold]] = []
        for index, fault in enumerate(scenario.fault):
            streams = (fault.unit,) if fault.unit in scenario.transmitter else plan.streams
            units = {stream: struck_unit(fault, stream) for stream in streams}
            found = {unit: struck(scenario, plan, index, unit) for unit in set(units.values())}
            self._struck.append(tuple(found.values()))
            self._folds.append(
                {
                    name: FaultFold(
                        output,
                        fault_kind(fault.kind),
                        found[units[output.stream]],
                        plan,
                        dues[name],
                    )
                    for name, output in scenario.output.items()
                    if touches(fault, output)
                }
            )

    def take(self, output: str, output_log: OutputLog) -> None:
        """Some more that an output was told and did."""
        for folds in self._folds:
            if output in folds:
                folds[output].take(output_log)

    def finish(self) -> tuple[FaultTally, ...]:
        """The tallies: nothing more comes."""
        return tuple(
            _tally(struck_units, folds, self._brownouts)
            for struck_units, folds in zip(self._struck, self._folds, strict=True)
        )


def _tally(
    units: Sequence[Struck],
    folds: dict[str, "FaultFold"],
    brownouts: Sequence[BrownoutRow] | None,
) -> FaultTally:
    over_ns = max(unit.over_ns for unit in units)
    at_ns = min(unit.at_ns for unit in units)
    recovered_ns = max((fold.recovered_ns for fold in folds.values()), default=at_ns)
    return FaultTally(
        over_ns=NEVER if over_ns == FOREVER_NS else over_ns - units[0].at_ns,
        is_bitten=any(unit.is_bitten for unit in units),
        is_felt=any(unit.is_felt for unit in units),
        outputs={name: fold.finish() for name, fold in folds.items()},
        has_brownout=None
        if brownouts is None
        else any(at_ns <= row.at_ns < recovered_ns for row in brownouts),
    )


class FaultFold:
    """What one output makes of one fault, folded over its commands and deeds.

    A command at the instant of the fault comes after it (rule T4). A trip counts until the stream
    has values again that were sampled after the fault, or until the pin floats.
    """

    def __init__(
        self, output: Output, kind: FaultKind, unit: Struck, plan: Plan, due_ns: int | None
    ) -> None:
        self._output, self._kind, self._unit, self._due_ns = output, kind, unit, due_ns
        self._at_ns, self._until_ns = unit.at_ns, plan.until_ns
        self._over_ns = NEVER if unit.over_ns == FOREVER_NS else unit.over_ns
        self._detected_ns = self._recovered_ns = NEVER
        self._before = self._last = NEVER
        self._is_open, self._is_stopped = True, False
        self._renewed_ns = self._changed_ns = self._longest_gap_ns = 0
        self._values_ns = NEVER
        self._entries = self._last_live_ns = 0
        self._waiting: list[tuple[int, int]] = []

    @property
    def recovered_ns(self) -> int:
        """When a value taken after the fault was in effect; FOREVER_NS: not yet."""
        return FOREVER_NS if self._recovered_ns == NEVER else self._recovered_ns

    def take(self, output_log: OutputLog) -> None:
        """Some more that it was told and did."""
        if len(output_log.told):
            self._look(output_log.told)
        if self._detected_ns == NEVER and self._output.on_failsafe != "hold":
            self._detect(output_log.effects)
        if self._over_ns != NEVER and self._recovered_ns == NEVER and len(output_log.effects):
            self._recover(output_log.effects)

    def finish(self) -> OutputFaultTally:
        """The tally: nothing more comes."""
        is_preset = isinstance(self._output.on_failsafe, Preset)
        if self._detected_ns == NEVER and self._waiting and not is_preset:
            self._detected_ns = self._off_ns(self._waiting[0][1])
        if self._is_open:
            self._longest_gap_ns = max(self._longest_gap_ns, self._until_ns - self._renewed_ns)
        recovered_ns = self._recovered_ns
        fate = self._fate()
        reaction_ns = {Fate.CAME: self._detected_ns - self._at_ns, Fate.WAS_ON: 0}
        is_kept = self._last == FAILSAFE and self._output.on_failsafe == "hold"
        return OutputFaultTally(
            action=action_of(self._output),
            fate=fate,
            reaction_ns=reaction_ns.get(fate, NEVER),
            recovered_ns=NEVER if recovered_ns == NEVER else recovered_ns - self._over_ns,
            is_left_driven=recovered_ns == NEVER and (self._last == WRITTEN or is_kept),
        )

    def _fate(self) -> Fate:
        if not self._unit.is_felt:
            return Fate.NOTHING
        is_kept = self._due_ns is None or self._output.on_failsafe == "hold"
        if self._before == WRITTEN or (is_kept and self._before == FAILSAFE):
            return self._fate_of_driven(is_kept)
        was_on = not is_kept and self._before in (FAILSAFE, STARTED)
        return Fate.WAS_ON if was_on else Fate.NOT_DRIVEN

    def _fate_of_driven(self, is_kept: bool) -> Fate:
        """What becomes of an output that is driven when the fault strikes; `is_kept`: nothing but
        a floating pin can stop it."""
        until_ns = self._until_ns if self._recovered_ns == NEVER else self._recovered_ns
        if not is_kept and NEVER < self._detected_ns < until_ns:
            return Fate.CAME
        if self._is_stopped:
            return Fate.NO_PULSES
        if is_kept:
            return Fate.HELD
        is_due = self._due_ns is not None and self._silent_ns() > self._due_ns
        return Fate.NEVER_CAME if is_due else Fate.NOT_DUE

    def _silent_ns(self) -> int:
        """The longest time without a frame; where frames come as before, without other values."""
        if not self._kind.impairs:
            return 0
        if self._kind.is_silencing:
            return self._longest_gap_ns
        over_ns = self._until_ns if self._over_ns == NEVER else min(self._over_ns, self._until_ns)
        return over_ns - max(self._changed_ns, self._at_ns)

    def _look(self, told: Table) -> None:
        """What it was told before the fault, and from then on until something ends the matter."""
        first = int(np.searchsorted(told["at_ns"], self._at_ns, side="left"))
        self._last = int(told["kind"][-1])
        if first > 0:
            self._before = int(told["kind"][first - 1])
        written = np.flatnonzero(told["kind"] == WRITTEN)
        if len(written) and not self._kind.is_silencing:
            self._note_changes(told[written])
        if self._is_open:
            earlier = written[written < first]
            if len(earlier):
                self._renewed_ns = int(told["at_ns"][earlier[-1]])
            self._await(told, first)
        self._entries += len(told)

    def _await(self, told: Table, first: int) -> None:
        """Wait for what ends the matter, and note entries into failsafe and gaps on the way."""
        kinds, at_ns = told["kind"][first:], told["at_ns"][first:]
        over_ns = FOREVER_NS if self._over_ns == NEVER else self._over_ns
        is_value = (kinds == WRITTEN) & (told["frame"][first:] > FIRST_NOISE)
        is_renewed = is_value & (told["sampled_ns"][first:] >= over_ns)
        ends = np.flatnonzero(is_renewed | (kinds == STOPPED))
        last = int(ends[0]) + 1 if len(ends) else len(kinds)
        fed_ns = [self._renewed_ns, *at_ns[:last][kinds[:last] == WRITTEN].tolist()]
        self._longest_gap_ns = max(self._longest_gap_ns, *np.diff(fed_ns).tolist(), 0)
        self._renewed_ns = fed_ns[-1]
        rows = np.flatnonzero(kinds[:last] == FAILSAFE)
        entries = (self._entries + first + rows).tolist()
        self._waiting += zip(entries, at_ns[rows].tolist(), strict=True)
        if len(ends):
            self._is_open, self._is_stopped = False, bool(kinds[ends[0]] == STOPPED)

    def _note_changes(self, written: Table) -> None:
        """When it was last told other values than before, as long as the fault lasts."""
        if self._over_ns != NEVER:
            written = written[written["at_ns"] < self._over_ns]
        values_ns = np.concatenate(([self._values_ns], written["values_ns"]))
        changes = np.flatnonzero(np.diff(values_ns))
        if len(changes):
            self._changed_ns = int(written["at_ns"][changes[-1]])
        self._values_ns = int(values_ns[-1])

    def _detect(self, effects: Table) -> None:
        """When the failsafe value of an entry is in effect, if that is known by now (rule F6)."""
        if isinstance(self._output.on_failsafe, Preset):
            while self._waiting:
                entry, _ = self._waiting[0]
                first = int(np.searchsorted(effects["entry"], entry))
                if first == len(effects):
                    return
                if effects["entry"][first] == entry:
                    self._detected_ns = int(effects["end_ns"][first])
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
            self._detected_ns = self._off_ns(self._waiting[0][1])

    def _off_ns(self, told_ns: int) -> int:
        """When an output that was told to be off is so: its last pulse, and its controller's."""
        motor = self._output.motor
        loss_ns = 0 if motor is None else ns_from_ms(motor.signal_loss_ms)
        if self._output.kind != "servo":
            return told_ns + loss_ns
        return max(told_ns, self._last_live_ns) + loss_ns

    def _recover(self, effects: Table) -> None:
        """Look for the first value in effect that was taken after the fault."""
        if effects["end_ns"][-1] < self._over_ns:
            return
        after = np.flatnonzero((effects["is_fresh"] == 1) & (effects["values_ns"] >= self._over_ns))
        if len(after):
            self._recovered_ns = int(effects["end_ns"][after[0]])
