"""The whole world of one start, its trace, and the script of its faults."""

from collections.abc import Generator
from typing import Any

import simpy

from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import (
    COMES_BACK,
    FIFO_EMPTIED,
    GOES_AWAY,
    JAM_BEGINS,
    JAM_ENDS,
    NOISE_PASSES,
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    RADIO_STARTS,
    RADIO_STOPS,
    VALUES_FRESH,
    VALUES_STALE,
    Step,
)
from radiosim.engine.reference.air import Acknowledgement, Air, Flight, Frame
from radiosim.engine.reference.event_queue import Queue, at
from radiosim.engine.reference.receiver_program import ReceiverProgram
from radiosim.engine.reference.receiver_radio import Held, ReceiverRadio
from radiosim.engine.reference.transmitter_program import TransmitterProgram
from radiosim.engine.reference.transmitter_radio import TransmitterRadio
from radiosim.engine.rules.slots import step_slot
from radiosim.trace import LOST, ROWS, UNDER_WAY, WAITING, Table, table_of


class World:
    """Everything that lives in one start; its logs become the trace."""

    def __init__(self, plan: Plan, every_pass: bool) -> None:
        self.plan, self.n = plan, len(plan.tx)
        self.env = Queue()
        self.rows: dict[str, list[tuple[int, ...]]] = {name: [] for name in ROWS}
        self.air = Air(plan)
        self.receiver = ReceiverRadio(self)
        self.program = ReceiverProgram(self, every_pass)
        self.radios = [TransmitterRadio(self, i) for i in range(self.n)]
        self.on_one_address = [
            [radio for radio in self.radios if radio.tx.address_of == tx.address_of]
            for tx in plan.tx
        ]
        """For each transmitter: those that hear its acknowledgements, itself included."""
        self.programs = [TransmitterProgram(self, i) for i in range(self.n)]
        self.env.process(self.script())

    def script(self) -> Generator[simpy.Event, Any, None]:
        """What happens from outside, and when."""
        slot = step_slot(self.n)
        for step in self.plan.steps:
            yield at(self.env, step.at_ns, slot)
            if step.kind == NOISE_PASSES:
                self.receiver.hears_noise(step)
            elif step.kind in (JAM_BEGINS, JAM_ENDS):
                self.step_air(step)
            elif step.unit == self.n:
                self.step_receiver(step)
            else:
                self.step_transmitter(step)

    def step_receiver(self, step: Step) -> None:
        """One step of the receiver (rule E3)."""
        {
            PROGRAM_STARTS: self.program.start,
            PROGRAM_STOPS: self.program.stop,
            PROGRAM_PAUSES: self.program.pause,
            PROGRAM_RESUMES: self.program.resume,
            RADIO_STARTS: self.receiver.start,
            RADIO_STOPS: self.receiver.stop,
            FIFO_EMPTIED: self.receiver.empty_fifo,
        }[step.kind]()

    def step_air(self, step: Step) -> None:
        """One step of the air itself."""
        if step.kind == JAM_BEGINS:
            self.air.jam(step.at_ns)
        else:
            self.air.jammed = False

    def step_transmitter(self, step: Step) -> None:
        """One step of a transmitter (rules A5 and E3)."""
        radio, program = self.radios[step.unit], self.programs[step.unit]
        if step.kind in (VALUES_STALE, VALUES_FRESH):
            program.stale = step.kind == VALUES_STALE
            return
        {
            PROGRAM_STARTS: program.start,
            PROGRAM_STOPS: program.stop,
            PROGRAM_PAUSES: program.pause,
            PROGRAM_RESUMES: program.resume,
            RADIO_STARTS: radio.start,
            RADIO_STOPS: radio.stop,
            GOES_AWAY: radio.leave,
            COMES_BACK: radio.come_back,
        }[step.kind]()
        if step.kind == RADIO_STARTS:
            program.radio_rests()

    def log_attempt(self, flight: Flight, end_ns: int, fate: int) -> None:
        """An attempt is over."""
        frame = flight.frame
        self.rows["attempts"].append(
            (
                frame.stream,
                frame.frame,
                flight.attempt,
                frame.slot,
                frame.number,
                flight.start_ns,
                end_ns,
                fate,
            )
        )

    def log_acknowledgement(
        self, acknowledgement: Acknowledgement, end_ns: int, fate: int, takers: int
    ) -> None:
        """An acknowledgement is over."""
        flight = acknowledgement.flight
        frame = flight.frame
        self.rows["acknowledgements"].append(
            (
                frame.stream,
                frame.frame,
                flight.attempt,
                acknowledgement.start_ns,
                end_ns,
                fate,
                takers,
            )
        )

    def log_frame(self, frame: Frame, done_ns: int, outcome: int) -> None:
        """A frame is over at its transmitter's end, or kept for another slot."""
        self.rows["frames"].append(
            (
                frame.stream,
                frame.frame,
                frame.attempts,
                frame.sampled_ns,
                frame.values_ns,
                frame.values_frame,
                done_ns,
                outcome,
            )
        )

    def log_read(self, held: Held, read_ns: int, outcome: int) -> None:
        """An accepted frame leaves the FIFO, or the run ends with it there."""
        frame = held.frame
        self.rows["reads"].append(
            (
                frame.stream,
                frame.frame,
                frame.sampled_ns,
                frame.values_ns,
                frame.values_frame,
                held.accepted_ns,
                read_ns,
                outcome,
            )
        )

    def log_lost(self, held: Held, at_ns: int) -> None:
        """An accepted frame is lost with the FIFO."""
        self.log_read(held, at_ns, LOST)

    def log_pass(self, start_ns: int, next_ns: int, frames: int) -> None:
        """A pass read frames."""
        self.rows["passes"].append((start_ns, next_ns, frames))

    def close(self) -> dict[str, Table]:
        """What is still under way at the end, then the tables."""
        until_ns = self.plan.until_ns
        for radio, program in zip(self.radios, self.programs, strict=True):
            for frame in (*radio.fifo, program.preparing, program.memory):
                if frame is not None:
                    self.log_frame(frame, until_ns, UNDER_WAY)
        self.program.log_pass_under_way()
        for held in self.receiver.fifo:
            self.log_read(held, until_ns, WAITING)
        return {name: table_of(name, rows) for name, rows in self.rows.items()}


def run(plan: Plan, *, every_pass: bool = False) -> dict[str, Table]:
    """Tables of one start, by name (see trace.py); events at the end instant are left out.

    `every_pass` schedules each idle pass instead of jumping over them; the trace is the same.
    """
    world = World(plan, every_pass)
    world.env.run(until=plan.until_ns)
    return world.close()
