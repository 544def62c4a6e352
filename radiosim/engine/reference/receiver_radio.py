"""The receiver's radio: half duplex, one FIFO, packet memories (rule D)."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import simpy

from radiosim.chance import ONE_53
from radiosim.engine.plan import has_same_crc
from radiosim.engine.plan_rows import Step
from radiosim.engine.reference.air import Acknowledgement, Flight, Frame, Heard, is_faint
from radiosim.engine.reference.event_queue import Due, at
from radiosim.engine.rules.noise import noise_is_acknowledged
from radiosim.engine.rules.reception import (
    acceptance,
    catches,
    checks_duplicates,
    hearing,
    is_acknowledged,
    is_deaf_between,
    is_deaf_in_boot,
    takes_acknowledgement,
    takes_attempt,
)
from radiosim.engine.rules.slots import acknowledgement_end_slot, acknowledgement_start_slot
from radiosim.engine.timeline import FOREVER_NS
from radiosim.trace import (
    ACK_CHANCE,
    ACK_COLLISION,
    ACK_CUT,
    ACK_FAINT,
    CHANCE,
    NEW,
    TAKEN,
    UNHEARD,
)

if TYPE_CHECKING:
    from radiosim.engine.reference.transmitter_radio import TransmitterRadio
    from radiosim.engine.reference.world import World


@dataclass(slots=True, eq=False)
class Held:
    """A frame in the receive FIFO."""

    frame: Frame
    accepted_ns: int


class ReceiverRadio:
    """Hears attempts, keeps frames, acknowledgements."""

    def __init__(self, world: World) -> None:
        self.world, self.rx = world, world.plan.rx
        self.on_since_ns = self.listening_ns = FOREVER_NS
        self.fifo: list[Held] = []
        self.memory: list[Frame | None] = [None] * world.n
        self.acknowledgement: Acknowledgement | None = None
        self.earner: Flight | None = None
        """The flight that is being acknowledged."""
        self.ack_drawn_53 = 0
        """What chance draws for the acknowledgement."""
        self.begin_acknowledging()

    def begin_acknowledging(self) -> None:
        """Start the process that acknowledges, idle."""
        self.turn_round = Due(self.world.env)
        self.acknowledging = self.world.env.process(self.acknowledgements())

    def start(self) -> None:
        """The radio listens."""
        self.on_since_ns = self.listening_ns = self.world.env.now

    def stop(self) -> None:
        """It loses power or its settings: FIFO, packet memory and acknowledge are gone (rule
        E3)."""
        self.on_since_ns = self.listening_ns = FOREVER_NS
        self.empty_fifo()
        self.memory = [None] * self.world.n
        if self.earner is not None:
            self.acknowledging.interrupt()
            if self.acknowledgement is not None:
                self.world.log_acknowledgement(self.acknowledgement, self.world.env.now, ACK_CUT, 0)
            self.over(self.earner)
            self.begin_acknowledging()

    def empty_fifo(self) -> None:
        """Throw away what waits."""
        for held in self.fifo:
            self.world.log_lost(held, self.world.env.now)
        self.fifo.clear()

    def is_deaf(self, start_ns: int, end_ns: int) -> bool:
        """Whether its program made it stop listening somewhere in [start, end)."""
        program = self.world.program
        if is_deaf_in_boot(self.rx, program.running, program.base_ns, start_ns):
            return True
        if self.rx.deafs == 0 or not program.running:
            return False
        return is_deaf_between(
            self.rx, program.base_ns, program.paused_ns, program.resumed_ns, start_ns, end_ns
        )

    def cause(self, flight: Flight, faint: bool, hit: bool) -> int:
        """What takes a flight by now, chance apart (rule C5)."""
        now = self.world.env.now
        deaf = self.is_deaf(flight.start_ns, now)
        return hearing(flight.start_ns, self.on_since_ns, self.listening_ns, faint, deaf, hit)

    def could_hear(self, flight: Flight) -> bool:
        """Whether it hears a flight that is on the air, if nothing spoils it."""
        return self.cause(flight, False, False) == NEW

    def hears(self, flight: Flight, drawn_53: int, ack_drawn_53: int) -> tuple[int, bool]:
        """A flight has ended: its fate, and whether an acknowledgement is on its way."""
        tx = self.world.plan.tx[flight.frame.stream]
        fate = self.cause(flight, is_faint(flight, tx), is_hit(flight))
        if fate == NEW:
            is_lost = takes_attempt(tx, drawn_53, flight.is_bad)
            fate = CHANCE if is_lost else self.accepts(flight.frame)
        if not is_acknowledged(fate, tx.acknowledge, self.rx.acknowledge_when_full):
            return fate, False
        self.turn_for(flight, ack_drawn_53)
        return fate, True

    def turn_for(self, flight: Flight, ack_drawn_53: int) -> None:
        """A frame has earned an acknowledgement: the radio turns round (rule D1)."""
        start_ns = flight.end_ns + self.rx.settle_ns
        ack_ns = self.world.plan.tx[flight.frame.stream].ack_ns
        self.listening_ns = start_ns + ack_ns + self.rx.settle_ns
        self.earner, self.ack_drawn_53 = flight, ack_drawn_53
        self.turn_round.at(start_ns, acknowledgement_start_slot(self.world.n))

    def hears_noise(self, step: Step) -> None:
        """Noise makes the last bit of a frame: one more in the FIFO, and perhaps acknowledged (rule
        D6)."""
        tx, now = self.world.plan.tx[step.stream], step.at_ns
        since_ns = now - tx.noise_ns
        is_quiet = self.world.air.is_quiet(since_ns, self.listening_ns)
        if not is_quiet or self.is_deaf(since_ns, now):
            return
        frame = Frame(
            stream=step.stream,
            frame=step.frame,
            sampled_ns=now,
            values_ns=now,
            values_frame=step.frame,
        )
        fate = acceptance(False, len(self.fifo), self.rx.fifo_frames)
        if fate == NEW:
            # Its packet number and CRC are those of no frame that will come.
            self.memory[tx.memory] = None
            self.fifo.append(Held(frame, now + self.rx.interrupt_ns))
            self.world.program.wake()
        if noise_is_acknowledged(self.rx, fate, tx.acknowledge, step.asks):
            self.turn_for(noise_flight(frame, since_ns, now), ONE_53)

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
        """Whether packet number and CRC are those of the last accepted frame (rule D3)."""
        if last is None or frame.number != last.number:
            return False
        if frame is last:
            return True
        return has_same_crc(
            self.world.plan,
            frame.number,
            (frame.stream, frame.values_frame, frame.values_ns),
            (last.stream, last.values_frame, last.values_ns),
        )

    def acknowledgements(self) -> Generator[simpy.Event, Any, None]:
        """Turn round, acknowledgement, turn back, time and again (rule D1)."""
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
        tx = world.plan.tx[flight.frame.stream]
        acknowledgement = self.acknowledgement = world.air.acknowledgement = Acknowledgement(
            flight, start_ns
        )
        world.air.spoil(start_ns)
        is_lost = takes_acknowledgement(tx, self.ack_drawn_53, world.air.is_bad(start_ns))
        end_ns = start_ns + tx.ack_ns
        listeners = self.listeners(acknowledgement)
        acknowledgement.heard = [heard for _, heard in listeners]
        for radio, heard in listeners:
            is_held = not acknowledgement.hit and heard.flight is not flight
            if is_held and world.air.addresses(heard, start_ns + tx.ack_address_ns):
                radio.hold_on(end_ns)
        yield at(world.env, end_ns, acknowledgement_end_slot(world.n))
        world.air.accrue_errors(end_ns)
        takers = 0
        for radio, heard in listeners:
            is_good = (
                not (acknowledgement.hit or is_lost or heard.faint) and heard.hit_ns == FOREVER_NS
            )
            if is_good and radio.listening_to is heard.flight and not radio.caught:
                radio.take(end_ns)
                takers |= 1 << radio.i
        world.log_acknowledgement(
            acknowledgement, end_ns, fate_of(acknowledgement, is_lost, takers, end_ns), takers
        )
        self.over(flight)

    def listeners(self, acknowledgement: Acknowledgement) -> list[tuple[TransmitterRadio, Heard]]:
        """Transmitters that catch the acknowledgement, whoever earned it, with what they await
        (B3)."""
        return [
            (radio, self.heard_by(radio, radio.listening_to, acknowledgement.start_ns))
            for radio in self.world.on_one_address[acknowledgement.flight.frame.stream]
            if radio.listening_to is not None
            and not radio.caught
            and catches(radio.tx, radio.listening_ns, acknowledgement.start_ns)
        ]

    def heard_by(self, radio: TransmitterRadio, flight: Flight, now: int) -> Heard:
        """The acknowledgement that starts now as a transmitter has it; the path is that of its
        frame."""
        level_mw = self.rx.power_mw * flight.gain
        return Heard(
            flight=flight,
            level_mw=level_mw,
            budget=flight.ack_budget,
            quiet_rate=self.world.air.quiet_rate(level_mw),
            accrued_ns=now,
            faint=radio.away or (self.rx.weighs == 1 and level_mw > self.rx.strongest_mw),
        )

    def over(self, earner: Flight) -> None:
        """The acknowledgement is over; who did not hear it goes on to the next attempt."""
        self.world.air.acknowledgement = self.acknowledgement = self.earner = None
        radio = self.world.radios[earner.frame.stream]
        if radio.listening_to is earner and not radio.caught:
            radio.wait_until_due()


def noise_flight(frame: Frame, since_ns: int, now: int) -> Flight:
    """Noise as if it had been on the air, for what it earns."""
    return Flight(
        frame=frame,
        attempt=0,
        start_ns=since_ns,
        end_ns=now,
        power_mw=0.0,
        level_mw=0.0,
        accrued_ns=now,
    )


def is_hit(flight: Flight) -> bool:
    """Whether something spoilt it or kept it out."""
    return flight.hit_ns != FOREVER_NS or flight.shut_out


def fate_of(acknowledgement: Acknowledgement, is_lost: bool, takers: int, now: int) -> int:
    """What became of an acknowledgement that is over."""
    if takers:
        return TAKEN
    if acknowledgement.hit:
        return ACK_COLLISION
    for heard in acknowledgement.heard:
        if heard.flight is acknowledgement.flight:
            if heard.faint or heard.quiet_rate * (now - acknowledgement.start_ns) > heard.budget:
                return ACK_FAINT
            if heard.hit_ns != FOREVER_NS:
                return ACK_COLLISION
    return ACK_CHANCE if is_lost else UNHEARD
