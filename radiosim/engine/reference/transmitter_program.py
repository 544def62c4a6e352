"""A transmitter's program: it samples and hands frames to its radio (rule A)."""

from __future__ import annotations

from collections.abc import Generator
from functools import partial
from typing import TYPE_CHECKING, Any

import simpy

from radiosim.engine.plan_rows import QUEUE, REPLACE, WAIT
from radiosim.engine.reference.air import Frame
from radiosim.engine.reference.event_queue import at
from radiosim.engine.rules.slots import sample_slot, upload_slot
from radiosim.engine.rules.timing import (
    AFTER_SEND,
    TIMER,
    busy_until,
    dither_of,
    first_sample_at,
    next_tick,
    pause_until,
    turn_at,
)
from radiosim.trace import POWER_CUT, REPLACED, SKIPPED

if TYPE_CHECKING:
    from radiosim.engine.reference.world import World


Process = Generator[simpy.Event, Any, None]


class TransmitterProgram:
    """What runs on a hand unit's microcontroller."""

    def __init__(self, world: World, i: int) -> None:
        self.world, self.i, self.tx = world, i, world.plan.tx[i]
        self.frames = 0
        """How many samples were ever taken; goes on over resets."""
        self.running = False
        self.paused = False
        self.stale = False
        self.base_ns = 0
        self.n = 0
        self.dithered_ns = 0
        """By how much all periods before tick `n` together were longer (rule J0)."""
        self.last_values: tuple[int, int] | None = None
        self.preparing: Frame | None = None
        self.prepared_ns = 0
        self.memory: Frame | None = None
        """A sample that waits in the program for the radio."""
        self.sampled_ns = 0
        self.next_ns: int | None = None
        """When a program without a timer samples next; None while it waits for the radio."""

    def start(self) -> None:
        """The program has booted: its grid starts afresh."""
        self.running, self.paused = True, False
        self.base_ns, self.n, self.last_values = self.world.env.now, 0, None
        self.dithered_ns = 0
        if self.tx.pacing == TIMER:
            self.process = self.world.env.process(self.ticks(self.base_ns - 1))
        else:
            self.next_ns = first_sample_at(self.tx, self.base_ns, self.frames)
            self.rest = simpy.Event(self.world.env)
            self.process = self.world.env.process(self.turns())

    def stop(self) -> None:
        """Power cut or reset: what the program held in memory is gone."""
        self.halt()
        self.running = self.paused = False
        for frame in (self.preparing, self.memory):
            if frame is not None:
                self.world.log_frame(frame, self.world.env.now, POWER_CUT)
        self.preparing = self.memory = None

    def halt(self) -> None:
        """End the process; what it knew stands in the attributes."""
        if not self.paused:
            self.process.interrupt()

    def pause(self) -> None:
        """The program stands still (rule E3, hang)."""
        self.halt()
        self.paused = True

    def resume(self) -> None:
        """Lets the program go on where it stood."""
        now = self.world.env.now
        self.paused = False
        if self.tx.pacing == TIMER:
            self.process = self.world.env.process(self.ticks(now - 1))
        else:
            if self.next_ns is not None:
                self.next_ns = max(self.next_ns, now)
            self.rest = simpy.Event(self.world.env)
            self.process = self.world.env.process(self.turns())
        if self.preparing is not None:
            self.prepare(self.preparing, max(self.prepared_ns, now))
        elif not self.world.radios[self.i].busy:
            self.radio_rests()

    def ticks(self, after_ns: int) -> Process:
        """Samples on a timer (rule A1)."""
        env, slot = self.world.env, sample_slot(self.i, self.world.n)
        try:
            while True:
                self.n, self.dithered_ns, at_ns = next_tick(
                    self.tx, self.base_ns, self.n, self.dithered_ns, self.frames, after_ns
                )
                yield at(env, at_ns, slot)
                self.dithered_ns += dither_of(self.tx, self.base_ns, self.n)
                self.n, after_ns = self.n + 1, at_ns
                self.take()
        except simpy.Interrupt:
            pass

    def turns(self) -> Process:
        """Samples by a loop that waits for its radio (rules A2 and A3)."""
        env, slot = self.world.env, sample_slot(self.i, self.world.n)
        try:
            while True:
                if self.next_ns is not None:
                    yield at(env, self.next_ns, slot)
                    self.next_ns, self.sampled_ns = None, env.now
                    self.begin(self.sample())
                yield self.rest
                self.rest = simpy.Event(env)
                if self.tx.pacing == AFTER_SEND:
                    self.next_ns = pause_until(self.tx, self.base_ns, env.now, self.frames)
                else:
                    self.next_ns = turn_at(self.tx, self.base_ns, self.sampled_ns, env.now)
        except simpy.Interrupt:
            pass

    def sample(self) -> Frame:
        """Read the controls; a stale program finds the values of its last frame."""
        now = self.world.env.now
        if not self.stale or self.last_values is None:
            self.last_values = now, self.frames
        frame = Frame(self.i, self.frames, now, *self.last_values)
        self.frames += 1
        return frame

    def take(self) -> None:
        """One timer sample: to the radio, into memory, or away (rule A6)."""
        frame, now, busy = self.sample(), self.world.env.now, self.world.radios[self.i].busy
        is_free = self.preparing is None and self.memory is None
        if is_free and (not busy or self.tx.when_busy == QUEUE):
            self.begin(frame)
        elif self.tx.when_busy == WAIT and self.memory is None:
            self.memory = frame
        elif self.tx.when_busy == REPLACE:
            if self.memory is not None:
                self.world.log_frame(self.memory, now, REPLACED)
            self.memory = frame
        else:
            self.world.log_frame(frame, now, SKIPPED)

    def begin(self, frame: Frame) -> None:
        """Work on a frame until it can be uploaded (rule A4)."""
        free_ns = busy_until(self.tx, self.base_ns, self.world.env.now, False)
        self.prepare(frame, free_ns + self.tx.prepare_ns)

    def prepare(self, frame: Frame, until_ns: int) -> None:
        """Upload a frame at an instant, at once if that is now."""
        if until_ns <= self.world.env.now:
            self.preparing = None
            self.world.radios[self.i].upload(frame)
            return
        self.preparing, self.prepared_ns = frame, until_ns
        ready = at(self.world.env, until_ns, upload_slot(self.i, self.world.n))
        ready.callbacks.append(partial(self.on_prepared, frame))

    def on_prepared(self, frame: Frame, _: simpy.Event) -> None:
        """The frame is ready, unless the program stood still or lost it."""
        is_current = self.preparing is frame and self.prepared_ns == self.world.env.now
        if is_current and not self.paused:
            self.preparing = None
            self.world.radios[self.i].upload(frame)

    def radio_rests(self) -> None:
        """The radio has nothing more to do in this slot: on with what waited for it."""
        if not self.running or self.paused or self.preparing is not None:
            return
        if self.memory is not None:
            frame, self.memory = self.memory, None
            free_ns = busy_until(self.tx, self.base_ns, self.world.env.now, False)
            self.prepare(frame, max(free_ns, frame.sampled_ns + self.tx.prepare_ns))
        elif self.tx.pacing != TIMER and self.next_ns is None and not self.rest.triggered:
            self.rest.succeed()
