"""The failsafe timer of one stream (rules F1 to F3)."""

from dataclasses import dataclass

from radiosim.engine.rules.grid import scaled
from radiosim.layout import Layout
from radiosim.scenario.structs.failsafe import Failsafe
from radiosim.units import ns_from_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry into failsafe."""

    at_ns: int
    fed_ns: int
    """When the timer was last fed."""
    is_true: bool
    """A blocking fault was active in between (rule F5); else it is a nuisance trip."""


class Timer:
    """It starts on, which is no entry; frames that count clear it. `ppb`: the receiver's clock."""

    def __init__(self, stream: int, described: Failsafe, layout: Layout, ppb: int) -> None:
        self.stream = stream
        self.timeout_ns = scaled(ns_from_ms(described.timeout_ms), ppb)
        self.fed_by_any = described.fed_by == "any"
        self.fed_at_arrival = described.fed_at == "arrival"
        self.resume_frames = described.resume_frames
        self.watched = layout.index_of(described.watch_field) if described.watch_field else None
        needs = described.resume_needs
        self.needed = None if needs is None else layout.index_of(needs.field)
        self.within = 0.0 if needs is None else needs.within
        self.neutral = 0.0 if self.needed is None else layout.fields[self.needed].neutral
        self.start(0)

    def start(self, now: int) -> None:
        """The program has booted."""
        self.is_on, self.fed_ns = True, now
        self.counted_ns, self.in_a_row = now, 0
        self.arrived_value: float | None = None
        self.last_value: float | None = None

    def counts(self, stream: int) -> bool:
        """Whether frames of a stream feed it."""
        return self.fed_by_any or stream == self.stream

    def arrives(self, stream: int, now: int, watched: float) -> None:
        """A frame has entered the FIFO; it feeds a timer that is fed at arrival.

        `watched`: what the watched field of an own frame says; of no meaning without one.
        """
        if not (self.fed_at_arrival and self.counts(stream)):
            return
        if self.watched is not None and stream == self.stream:
            is_unchanged, self.arrived_value = watched == self.arrived_value, watched
            if is_unchanged:
                return
        self.fed_ns = now

    def is_read(self, stream: int, now: int, watched: float) -> bool:
        """The program reads a frame; true if that counts towards the end of failsafe (F1, F3)."""
        if not self.counts(stream):
            return False
        if self.watched is not None and stream == self.stream:
            is_unchanged, self.last_value = watched == self.last_value, watched
            if is_unchanged:
                return False
        if not self.fed_at_arrival:
            self.fed_ns = now
        if self.in_a_row and now - self.counted_ns > self.timeout_ns:
            self.in_a_row = 0
        self.in_a_row, self.counted_ns = self.in_a_row + 1, now
        # A frame that waited too long to feed a timer that is fed at arrival cannot clear it.
        is_fed = now - self.fed_ns <= self.timeout_ns
        return self.is_on and is_fed and self.in_a_row >= self.resume_frames

    def may_resume(self, latched: float | None) -> bool:
        """Whether the latched value of the needed field lets outputs come alive again (rule F3)."""
        if self.needed is None:
            return True
        if latched is None:
            return False
        return abs(latched - self.neutral) <= self.within

    def enter(self) -> None:
        """Failsafe comes on; frames in a row start to count afresh."""
        self.is_on, self.in_a_row = True, 0
