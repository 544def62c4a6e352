"""The receiver's radio: half duplex, one FIFO, packet memories (rule D)."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import simpy

from radiosim.engine.order import acknowledgement_end_slot, acknowledgement_start_slot
from radiosim.engine.plan import has_same_checksum
from radiosim.engine.reference.air import Answer, Flight, Frame
from radiosim.engine.reference.clockwork import Due, at
from radiosim.engine.rules.reception import (
    acceptance,
    catches,
    checks_duplicates,
    hearing,
    is_answered,
    is_deaf_between,
)
from radiosim.engine.timeline import FOREVER_NS
from radiosim.trace import ACK_CHANCE, ACK_COLLISION, ACK_CUT, CHANCE, NEW, TAKEN, UNHEARD

if TYPE_CHECKING:
    from radiosim.engine.reference.sender_radio import SenderRadio
    from radiosim.engine.reference.world import World


@dataclass(slots=True, eq=False)
class Held:
    """A frame in the receive FIFO."""

    frame: Frame
    accepted_ns: int


class ReceiverRadio:
    """Hears attempts, keeps frames, answers."""

    def __init__(self, world: World) -> None:
        self.world, self.rx = world, world.plan.rx
        self.on_since_ns = self.listening_ns = FOREVER_NS
        self.fifo: list[Held] = []
        self.memory: list[Frame | None] = [None] * world.n
        self.answer: Answer | None = None
        self.earner: Flight | None = None
        """The flight that is being answered."""
        self.ack_lost = False
        self.begin_answering()

    def begin_answering(self) -> None:
        """Start the process that answers, idle."""
        self.turn_round = Due(self.world.env)
        self.answering = self.world.env.process(self.answers())

    def start(self) -> None:
        """The radio listens."""
        self.on_since_ns = self.listening_ns = self.world.env.now

    def stop(self) -> None:
        """It loses power or its settings: FIFO, packet memory and answer are gone (rule E3)."""
        self.on_since_ns = self.listening_ns = FOREVER_NS
        self.empty_fifo()
        self.memory = [None] * self.world.n
        if self.earner is not None:
            self.answering.interrupt()
            if self.answer is not None:
                self.world.log_answer(self.answer, self.world.env.now, ACK_CUT, 0)
            self.over(self.earner)
            self.begin_answering()

    def empty_fifo(self) -> None:
        """Throw away what waits."""
        for held in self.fifo:
            self.world.log_lost(held, self.world.env.now)
        self.fifo.clear()

    def is_deaf(self, start_ns: int, end_ns: int) -> bool:
        """Whether its program made it stop listening somewhere in [start, end)."""
        program = self.world.program
        if self.rx.deafs == 0 or not program.running:
            return False
        return is_deaf_between(
            self.rx, program.base_ns, program.paused_ns, program.resumed_ns, start_ns, end_ns
        )

    def cause(self, flight: Flight, hit: bool) -> int:
        """What takes a flight by now, chance apart (rule C5)."""
        now = self.world.env.now
        deaf = self.is_deaf(flight.start_ns, now)
        return hearing(flight.start_ns, self.on_since_ns, self.listening_ns, deaf, hit)

    def could_hear(self, flight: Flight) -> bool:
        """Whether it hears a flight that is on the air, if nothing spoils it."""
        return self.cause(flight, False) == NEW

    def hears(self, flight: Flight, lost: bool, ack_lost: bool) -> tuple[int, bool]:
        """A flight has ended: its fate, and whether an answer is on its way."""
        tx = self.world.plan.tx[flight.frame.stream]
        fate = self.cause(flight, flight.hit_ns != FOREVER_NS or flight.shut_out)
        if fate == NEW:
            fate = CHANCE if lost else self.accepts(flight.frame)
        if not is_answered(fate, tx.acknowledge, self.rx.acknowledge_when_full):
            return fate, False
        start_ns = flight.end_ns + self.rx.settle_ns
        self.listening_ns = start_ns + tx.ack_ns + self.rx.settle_ns
        self.earner, self.ack_lost = flight, ack_lost
        self.turn_round.at(start_ns, acknowledgement_start_slot(self.world.n))
        return fate, True

    def accepts(self, frame: Frame) -> int:
        """What becomes of a good frame; a new one goes into the FIFO (rules D2 to D4)."""
        tx = self.world.plan.tx[frame.stream]
        is_same = checks_duplicates(tx.acknowledge) and self.is_same(frame, self.memory[tx.memory])
        fate = acceptance(is_same, len(self.fifo), self.rx.fifo_frames)
        if fate == NEW:
            self.memory[tx.memory] = frame
            self.fifo.append(Held(frame, self.world.env.now + self.rx.interrupt_ns))
            self.world.program.wake()
        return fate

    def is_same(self, frame: Frame, last: Frame | None) -> bool:
        """Whether packet number and checksum are those of the last accepted frame (rule D3)."""
        if last is None or frame.number != last.number:
            return False
        if frame is last:
            return True
        return has_same_checksum(
            self.world.plan,
            frame.number,
            (frame.stream, frame.values_frame, frame.values_ns),
            (last.stream, last.values_frame, last.values_ns),
        )

    def answers(self) -> Generator[simpy.Event, Any, None]:
        """Turn round, answer, turn back, time and again (rule D1)."""
        try:
            while True:
                yield self.turn_round
                self.turn_round = Due(self.world.env)
                if self.earner is not None:
                    yield from self.acknowledge(self.earner)
        except simpy.Interrupt:
            pass

    def acknowledge(self, flight: Flight) -> Generator[simpy.Event, Any, None]:
        """One acknowledgement, from its start on the air to its end."""
        world, start_ns = self.world, self.world.env.now
        answer = self.answer = world.air.answer = Answer(flight, start_ns)
        world.air.spoil(start_ns)
        end_ns = start_ns + world.plan.tx[flight.frame.stream].ack_ns
        listeners = self.listeners(answer)
        if not answer.hit:
            for radio, heard in listeners:
                if heard is not flight:
                    radio.hold_on(end_ns)
        yield at(world.env, end_ns, acknowledgement_end_slot(world.n))
        is_good = not (answer.hit or self.ack_lost)
        takers = 0
        for radio, heard in listeners:
            if is_good and radio.listening_to is heard and not radio.caught:
                radio.take(end_ns)
                takers |= 1 << radio.i
        spoilt = ACK_COLLISION if answer.hit else ACK_CHANCE if self.ack_lost else UNHEARD
        world.log_answer(answer, end_ns, TAKEN if takers else spoilt, takers)
        self.over(flight)

    def listeners(self, answer: Answer) -> list[tuple[SenderRadio, Flight]]:
        """Senders that catch the acknowledgement, whoever earned it, with what they await (B3)."""
        return [
            (radio, radio.listening_to)
            for radio in self.world.on_one_address[answer.flight.frame.stream]
            if radio.listening_to is not None
            and not radio.caught
            and catches(radio.tx, radio.listening_ns, answer.start_ns)
        ]

    def over(self, earner: Flight) -> None:
        """The answer is over; who earned it in vain goes on to the next attempt."""
        self.world.air.answer = self.answer = self.earner = None
        radio = self.world.radios[earner.frame.stream]
        if radio.listening_to is earner and not radio.caught:
            radio.wait_until_due()
