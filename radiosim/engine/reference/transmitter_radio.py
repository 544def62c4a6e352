"""A transmitter's radio: its FIFO, attempts, listening and retries (rule B)."""

from __future__ import annotations

from collections.abc import Generator
from functools import partial
from typing import TYPE_CHECKING, Any

import simpy

from radiosim.engine.plan_rows import ACKNOWLEDGING
from radiosim.engine.reference.air import Flight, Frame
from radiosim.engine.reference.event_queue import Due, at
from radiosim.engine.rules.levels import budgets, gain_at, next_shadow, shadow_draw
from radiosim.engine.rules.reception import draws
from radiosim.engine.rules.slots import done_slot, end_slot, start_slot
from radiosim.trace import ACKNOWLEDGED, CUT, KEPT, POWER_CUT, QUEUE_FULL, RETRIES_USED_UP, SENT

if TYPE_CHECKING:
    from radiosim.engine.reference.world import World


Process = Generator[simpy.Event, Any, None]


class TransmitterRadio:
    """Sends what stands in its FIFO; the program hears of it when the radio rests."""

    def __init__(self, world: World, i: int) -> None:
        self.world, self.i, self.tx = world, i, world.plan.tx[i]
        self.end_slot, self.done_slot, self.start_slot = (
            slot(i, world.n) for slot in (end_slot, done_slot, start_slot)
        )
        self.on = False
        self.busy = False
        self.number = -1
        self.fifo: list[Frame] = []
        self.flight: Flight | None = None
        self.listening_to: Flight | None = None
        """The attempt whose acknowledgement is awaited."""
        self.listening_ns = 0
        self.caught = False
        self.due_ns = 0
        self.due_slot = self.start_slot
        self.away = False
        """Out of range, by a fault of the scenario."""
        self.shadow, self.shadow_step = 0.0, -1

    def start(self) -> None:
        """The radio is set up: packet numbers start again, nothing is in it."""
        self.on, self.busy, self.number = True, False, -1
        self.first = Due(self.world.env)
        self.process = self.world.env.process(self.run())

    def stop(self) -> None:
        """Power or settings are gone, and with them all that the radio held (rule A5)."""
        self.process.interrupt()
        now = self.world.env.now
        if self.flight is not None:
            self.world.air.ends(self.flight, now)
            self.world.log_attempt(self.flight, now, CUT)
        for frame in self.fifo:
            self.world.log_frame(frame, now, POWER_CUT)
        self.on, self.busy = False, False
        self.fifo, self.flight, self.listening_to = [], None, None

    def upload(self, frame: Frame) -> None:
        """The program moves a frame over and gives the start signal (rules A6, B1, B6)."""
        now = self.world.env.now
        if not self.on:
            self.world.log_frame(frame, now, POWER_CUT)
            return
        if len(self.fifo) >= self.tx.fifo_frames:
            self.world.log_frame(frame, now, QUEUE_FULL)
        else:
            self.number = (self.number + 1) & 3
            frame.number, frame.ready_ns = self.number, now + self.tx.upload_ns
            self.fifo.append(frame)
        # A pulse that comes while the radio is busy is lost; a held line is still up later.
        if not self.busy:
            self.busy = True
            self.first.at(now + self.tx.upload_ns + self.tx.settle_ns, self.start_slot)

    def run(self) -> Process:
        """Slot after slot, until the power goes."""
        env = self.world.env
        try:
            while True:
                yield self.first
                kept = yield from self.send(self.fifo[0])
                while self.tx.start_held and self.fifo and not kept:
                    ready_ns = max(env.now, self.fifo[0].ready_ns)
                    yield at(env, ready_ns + self.tx.settle_ns, self.start_slot)
                    kept = yield from self.send(self.fifo[0])
                self.first, self.busy = Due(env), False
                self.world.programs[self.i].radio_rests()
        except simpy.Interrupt:
            pass

    def send(self, frame: Frame) -> Generator[simpy.Event, Any, bool]:
        """One slot of a frame, from its first start; true if it stays in the FIFO after it."""
        tx = self.tx
        outcome = ACKNOWLEDGED if tx.acknowledge == ACKNOWLEDGING else SENT
        tried, is_done = 0, False
        while not is_done:
            if tried > tx.retry_limit:
                outcome = RETRIES_USED_UP if tx.flush_on_retries_used_up else KEPT
                break
            tried += 1
            is_done = yield from self.attempt(frame, tried > tx.retry_limit)
        self.world.log_frame(frame, self.world.env.now, outcome)
        if outcome == KEPT:
            frame.slot += 1
            return True
        del self.fifo[0]
        return False

    def attempt(self, frame: Frame, is_last: bool) -> Generator[simpy.Event, Any, bool]:
        """Once on the air, then listening; true if the frame is done with it."""
        world, env, tx = self.world, self.world.env, self.tx
        frame.attempts += 1
        flight = self.flight = self.flight_of(frame, env.now)
        end_ns = flight.end_ns
        world.air.begins(flight, world.receiver.could_hear)
        yield at(env, end_ns, self.end_slot)
        self.flight = None
        world.air.ends(flight, end_ns)
        drawn = draws(tx, frame.frame, frame.attempts)
        fate, is_acknowledged = world.receiver.hears(flight, *drawn)
        world.log_attempt(flight, end_ns, fate)
        self.turn = Due(env)
        if tx.acknowledge == ACKNOWLEDGING:
            self.listen(flight, is_last, is_acknowledged)
        else:
            self.turn.at(end_ns, self.done_slot, True)
        is_done: bool = yield self.turn
        self.listening_to = None
        return is_done

    def flight_of(self, frame: Frame, now: int) -> Flight:
        """A frame as it goes on the air: how strong it is and what it can bear."""
        tx, air = self.tx, self.world.air
        flight = Flight(
            frame=frame,
            attempt=frame.attempts,
            start_ns=now,
            end_ns=now + tx.frame_ns,
            power_mw=tx.power_mw,
            level_mw=tx.power_mw,
            accrued_ns=now,
            is_bad=air.is_bad(now),
            faint=self.away,
        )
        if air.rx.weighs:
            flight.gain = gain_at(tx, air.rx, now, self.shadow_at(now))
            flight.level_mw = tx.power_mw * flight.gain
            flight.quiet_rate = air.quiet_rate(flight.level_mw)
            flight.budget, flight.ack_budget = budgets(tx, frame.frame, frame.attempts)
            flight.faint = self.away or flight.level_mw > air.rx.strongest_mw
        return flight

    def shadow_at(self, now: int) -> float:
        """Shadowing in standard deviations; instants never go back."""
        if self.tx.shadow_db > 0:
            while self.shadow_step < now // self.tx.shadow_ns:
                self.shadow_step += 1
                if self.shadow_step == 0:
                    self.shadow = shadow_draw(self.tx, 0)
                else:
                    self.shadow = next_shadow(self.tx, self.shadow_step, self.shadow)
        return self.shadow

    def leave(self) -> None:
        """The transmitter goes out of range: what is on the air to or from it is lost."""
        self.away = True
        if self.flight is not None:
            self.flight.faint = True
            self.flight.hit_ns = min(self.flight.hit_ns, self.world.env.now)
        if self.world.air.acknowledgement is not None:
            for heard in self.world.air.acknowledgement.heard:
                if heard.flight.frame.stream == self.i:
                    heard.faint = True

    def come_back(self) -> None:
        """Brings the transmitter back in range; what is on the air has begun before."""
        self.away = False

    def listen(self, flight: Flight, is_last: bool, is_acknowledged: bool) -> None:
        """Wait for what ends this attempt: an acknowledgement, or the next one's time (B3, B4)."""
        self.listening_to, self.caught = flight, False
        self.listening_ns = flight.end_ns + self.tx.settle_ns
        self.due_ns = flight.end_ns + self.tx.retry_ns
        self.due_slot = self.done_slot if is_last else self.start_slot
        if not is_acknowledged:
            self.wait_until_due()

    def wait_until_due(self) -> None:
        """Set the alarm for the next attempt, or for the end of its retries."""
        alarm = at(self.world.env, self.due_ns, self.due_slot)
        alarm.callbacks.append(partial(self.on_due, self.turn, self.due_ns))

    def on_due(self, turn: Due, due_ns: int, _: simpy.Event) -> None:
        """The alarm goes off; it counts if nothing has happened since it was set."""
        is_current = turn is self.turn and due_ns == self.due_ns and self.listening_to is not None
        if is_current and not self.caught:
            turn.at(due_ns, self.due_slot, False)

    def hold_on(self, until_ns: int) -> None:
        """A matched address keeps the radio listening to the packet's end, good or bad."""
        earliest_ns = until_ns + self.tx.settle_ns
        if earliest_ns > self.due_ns:
            self.due_ns = earliest_ns
            self.wait_until_due()

    def take(self, now: int) -> None:
        """A good acknowledgement has ended: the frame is done after the interrupt time."""
        self.caught = True
        self.turn.at(now + self.tx.interrupt_ns, self.done_slot, True)
