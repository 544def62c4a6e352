"""The receiver's program: one loop that reads the FIFO (rule E)."""

from __future__ import annotations

from collections.abc import Generator
from typing import TYPE_CHECKING, Any

import simpy

from radiosim.engine.plan_rows import NEWEST, ONE
from radiosim.engine.reference.event_queue import Due
from radiosim.engine.rules.slots import pass_slot, read_slot
from radiosim.engine.rules.timing import interrupts_off_due, pass_from, pass_length
from radiosim.engine.timeline import FOREVER_NS
from radiosim.trace import READ, THROWN_AWAY

if TYPE_CHECKING:
    from radiosim.engine.reference.world import World


class ReceiverProgram:
    """Passes that read nothing are jumped over, unless `every_pass` asks for each of them."""

    def __init__(self, world: World, every_pass: bool) -> None:
        self.world, self.rx, self.every_pass = world, world.plan.rx, every_pass
        self.pass_slot, self.read_slot = pass_slot(world.n), read_slot(world.n)
        self.running = False
        self.paused = False
        self.base_ns = 0
        self.before_ns = self.previous_ns = self.next_ns = 0
        self.coming = 0, 0, 0
        """The same three for the pass, or interrupt, that the turn is set for."""
        self.paused_ns = self.resumed_ns = 0
        self.read_in_pass = 0
        """Frames that interrupts read in the pass under way, not yet in the trace."""
        self.turn = Due(world.env)
        """The next pass or interrupt; put on the queue once it is known."""

    def start(self) -> None:
        """The program has booted; its first pass is due now."""
        self.running, self.paused = True, False
        self.base_ns = self.next_ns = self.world.env.now
        self.before_ns = self.previous_ns = self.base_ns - 1
        self.paused_ns = self.resumed_ns = self.base_ns
        self.go_on()

    def go_on(self) -> None:
        """Start the loop where its attributes say."""
        self.turn = Due(self.world.env)
        self.process = self.world.env.process(self.loop())
        self.set_turn()

    def set_turn(self) -> None:
        """Find out when frames are read next, as far as that is known."""
        if self.world.receiver.fifo:
            self.wake()
        elif self.every_pass and not self.rx.interrupt:
            self.coming = self.pass_from(self.next_ns)
            self.turn.at(self.next_ns, self.pass_slot)

    def stop(self) -> None:
        """Reset or power cut."""
        self.halt()
        self.running = self.paused = False

    def halt(self) -> None:
        """End the process; a pass under way that read frames goes into the trace."""
        if not self.paused:
            self.process.interrupt()
        self.log_pass_under_way()

    def pause(self) -> None:
        """The program stands still (rule E3, hang)."""
        self.halt()
        self.paused, self.paused_ns, self.resumed_ns = True, self.world.env.now, FOREVER_NS
        self.before_ns, self.previous_ns, self.next_ns = self.pass_from(self.paused_ns)

    def resume(self) -> None:
        """It goes on: all that was to come is later by the time it stood."""
        self.paused, self.resumed_ns = False, self.world.env.now
        self.next_ns += self.resumed_ns - self.paused_ns
        self.go_on()

    def wake(self) -> None:
        """Frames wait: set the turn for the pass or the interrupt that reads the first of them."""
        if not self.running or self.paused or self.turn.triggered:
            return
        accepted_ns = self.world.receiver.fifo[0].accepted_ns
        self.coming = before_ns, previous_ns, next_ns = self.pass_from(
            self.next_ns if self.every_pass and not self.rx.interrupt else accepted_ns
        )
        if not self.rx.interrupt:
            self.turn.at(next_ns, self.pass_slot)
            return
        # Interrupts-off work comes first in a pass (rule E2).
        off_ns = interrupts_off_due(self.rx, self.base_ns, before_ns, previous_ns)
        at_ns = max(accepted_ns, previous_ns + off_ns, self.world.env.now)
        self.turn.at(at_ns, self.read_slot)

    def pass_from(self, at_ns: int) -> tuple[int, int, int]:
        """The first pass at or after `at_ns`, if those until then are idle, and two before it."""
        before_ns, previous_ns, next_ns = self.before_ns, self.previous_ns, self.next_ns
        if not self.every_pass and next_ns < at_ns:
            return pass_from(self.rx, self.base_ns, previous_ns, next_ns, at_ns)
        while next_ns < at_ns:
            length_ns = pass_length(self.rx, self.base_ns, previous_ns, next_ns, 0)
            before_ns, previous_ns, next_ns = previous_ns, next_ns, next_ns + length_ns
        return before_ns, previous_ns, next_ns

    def loop(self) -> Generator[simpy.Event, Any, None]:
        """Read after read: at the start of passes, or on arrival (rules E1 and E2)."""
        turns = self.interrupts if self.rx.interrupt else self.passes
        try:
            while True:
                yield self.turn
                self.turn = Due(self.world.env)
                if self.coming[2] != self.next_ns:
                    self.log_pass_under_way()
                    self.before_ns, self.previous_ns, self.next_ns = self.coming
                turns(self.takes())
                self.set_turn()
        except simpy.Interrupt:
            pass

    def passes(self, taken: int) -> None:
        """A pass starts, and reads (rule E1)."""
        start_ns = self.next_ns
        reading_ns = self.read(taken) if taken else 0
        self.next_ns += pass_length(self.rx, self.base_ns, self.previous_ns, start_ns, reading_ns)
        self.before_ns, self.previous_ns = self.previous_ns, start_ns
        if taken:
            self.world.log_pass(start_ns, self.next_ns, taken)

    def interrupts(self, taken: int) -> None:
        """An interrupt reads, and stretches the pass under way (rule E2)."""
        self.next_ns += self.read(taken)
        self.read_in_pass += taken

    def takes(self) -> int:
        """How many frames are read now: those that stand in the FIFO, or one of them."""
        now = self.world.env.now
        standing = sum(held.accepted_ns <= now for held in self.world.receiver.fifo)
        return min(1, standing) if self.rx.read == ONE and not self.rx.interrupt else standing

    def read(self, count: int) -> int:
        """Read frames; how long that takes, ns. `newest` throws away all but each stream's last."""
        fifo, now = self.world.receiver.fifo, self.world.env.now
        taken = fifo[:count]
        del fifo[:count]
        newest = {held.frame.stream: held for held in taken}
        reading_ns = 0
        for held in taken:
            is_stale = self.rx.read == NEWEST and newest[held.frame.stream] is not held
            self.world.log_read(held, now, THROWN_AWAY if is_stale else READ)
            reading_ns += self.world.plan.tx[held.frame.stream].reading_ns
        return reading_ns

    def log_pass_under_way(self) -> None:
        """Write down a pass in which interrupts read frames."""
        if self.read_in_pass:
            self.world.log_pass(self.previous_ns, self.next_ns, self.read_in_pass)
        self.read_in_pass = 0
