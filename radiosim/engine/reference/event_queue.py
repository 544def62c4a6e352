"""Instants of the event queue: simpy's own Timeout cannot say which of two equal ones is first."""

from typing import Any

import simpy


class Queue(simpy.Environment):
    """simpy's event queue, in whole nanoseconds from the start (rule T1)."""

    _now: int

    def __init__(self) -> None:
        super().__init__(initial_time=0)

    @property
    def now(self) -> int:
        """The current instant, ns."""
        return self._now


class Due(simpy.Event):
    """An event that is put on the queue later, for an instant and a slot of rule T4."""

    env: Queue

    def at(self, at_ns: int, slot: int, value: Any = None) -> None:
        """Let it happen at `at_ns`; simpy keeps priorities 0 and 1 for itself."""
        self._ok = True
        self._value = value
        env = self.env
        env.schedule(self, slot + 2, at_ns - env._now)  # type: ignore[arg-type]  # any number orders


def at(env: Queue, at_ns: int, slot: int) -> Due:
    """An event at an instant, in a slot of rule T4."""
    event = Due(env)
    event.at(at_ns, slot)
    return event
