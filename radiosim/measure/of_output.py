"""Figures of one output (rules G3 and G4)."""

from radiosim.engine.machine import Machine
from radiosim.engine.plan import Plan
from radiosim.measure.fold import output as parts
from radiosim.measure.fold.output import MICRODEGREES
from radiosim.measure.fold.spread import COUNTS
from radiosim.measure.histogram import of_ramps, of_spread
from radiosim.measure.tally import OutputTally
from radiosim.scenario.structs.output import Output
from radiosim.vehicle.output import Deeds

__all__ = ["MICRODEGREES", "OutputFigures"]


class OutputFigures:
    """What one output adds to the figures, folded over its deeds; exact, but quantiles."""

    def __init__(self, plan: Plan, output: Output, machine: Machine) -> None:
        self._plan, self._output, self._machine = plan, output, machine
        self._state = machine.record(parts.OutputFigures, COUNTS)
        machine.set(self._state, held_ns=parts.NEVER, longest_hold_ns=parts.NEVER)
        self._fold = machine.entry(parts.fold_effects)
        self._end = machine.entry(parts.fold_end)

    def take(self, deeds: Deeds) -> None:
        """Some more deeds."""
        self._fold(self._state, deeds.rows)

    def finish(self) -> OutputTally:
        """The tally: no more deeds come."""
        machine, state, output = self._machine, self._state, self._output
        self._end(state, self._plan.until_ns)
        longest_ns = int(machine.get(state, "longest_hold_ns"))
        has_servo = output.servo is not None
        return OutputTally(
            stream=output.stream,
            refresh_hz=output.refresh_hz if output.kind == "servo" else None,
            fresh=int(machine.get(state, "fresh")),
            longest_hold_ns=None if longest_ns == parts.NEVER else longest_ns,
            latency=of_spread(machine.get(state, "latency"), machine),
            age=of_ramps(machine.get(state, "age"), machine),
            servo_error=of_spread(machine.get(state, "error"), machine) if has_servo else None,
        )
