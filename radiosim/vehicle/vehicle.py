"""The vehicle as rows come: what the program and every output make of them, batch by batch."""

from collections.abc import Iterator
from dataclasses import dataclass

from radiosim.engine.machine import Machine
from radiosim.engine.plan import Plan
from radiosim.scenario import Scenario
from radiosim.trace import Table
from radiosim.vehicle.output import Deeds, OutputFold, Room
from radiosim.vehicle.program import Batch, ProgramFold


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """Something that the vehicle did: a batch of the program's events, or an output's deeds."""

    batch: Batch | None = None
    output: str = ""
    deeds: Deeds | None = None


class Vehicle:
    """The receiver's program and all outputs of one start, folded over its reads and passes."""

    def __init__(self, scenario: Scenario, plan: Plan, start: int, machine: Machine) -> None:
        room = Room(machine)
        self.outputs = {
            name: OutputFold(scenario, plan, start, name, machine, room) for name in scenario.output
        }
        self._plan = plan
        self._program = ProgramFold(
            scenario,
            plan,
            machine,
            tells_passes=any(output.is_smoothed for output in self.outputs.values()),
        )

    def take(self, reads: Table, passes: Table) -> Iterator[Act]:
        """What more rows make known; each act is overwritten by those after it."""
        for batch in self._program.take(reads, passes):
            yield from self._acts(batch)

    def finish(self) -> Iterator[Act]:
        """What is left to do when no more rows come."""
        for batch in self._program.finish():
            yield from self._acts(batch)

    def _acts(self, batch: Batch) -> Iterator[Act]:
        yield Act(batch=batch)
        for name, output in self.outputs.items():
            for deeds in output.take(batch.rows, batch.passes, batch.until_ns):
                yield Act(output=name, deeds=deeds)
