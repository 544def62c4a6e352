"""The failsafe timer of one stream (rules F1 to F3)."""

from radiosim.marks import rule
from radiosim.vehicle.fold.records import TimerState


@rule
def start_timer(timer: TimerState, now: int) -> None:
    """The program has booted: the timer is on, which is no entry."""
    timer.is_on = 1
    timer.fed_ns = timer.counted_ns = now
    timer.in_a_row = timer.has_arrived = timer.has_read = 0


@rule
def counts(timer: TimerState, stream: int) -> bool:
    """Whether frames of a stream feed it."""
    return timer.fed_by_any == 1 or stream == timer.stream


@rule
def arrives(timer: TimerState, stream: int, now: int, watched: float) -> None:
    """A frame has entered the FIFO; it feeds a timer that is fed at arrival.

    `watched`: what the watched field of an own frame says; of no meaning without one.
    """
    if timer.fed_at_arrival == 0 or not counts(timer, stream):
        return
    if timer.watches == 1 and stream == timer.stream:
        is_unchanged = timer.has_arrived == 1 and watched == timer.arrived
        timer.has_arrived, timer.arrived = 1, watched
        if is_unchanged:
            return
    timer.fed_ns = now


@rule
def is_read(timer: TimerState, stream: int, now: int, watched: float) -> bool:
    """The program reads a frame; true if that counts towards the end of failsafe (F1, F3)."""
    if not counts(timer, stream):
        return False
    if timer.watches == 1 and stream == timer.stream:
        is_unchanged = timer.has_read == 1 and watched == timer.last
        timer.has_read, timer.last = 1, watched
        if is_unchanged:
            return False
    if timer.fed_at_arrival == 0:
        timer.fed_ns = now
    if timer.in_a_row > 0 and now - timer.counted_ns > timer.timeout_ns:
        timer.in_a_row = 0
    timer.in_a_row += 1
    timer.counted_ns = now
    # A frame that waited too long to feed a timer that is fed at arrival cannot clear it.
    is_fed = now - timer.fed_ns <= timer.timeout_ns
    return timer.is_on == 1 and is_fed and timer.in_a_row >= timer.resume_frames


@rule
def may_resume(timer: TimerState, is_latched: bool, needed: float) -> bool:
    """Whether the latched value of the needed field lets outputs come alive again (rule F3)."""
    if timer.needs == 0:
        return True
    return is_latched and abs(needed - timer.neutral) <= timer.within


@rule
def runs_out(timer: TimerState, at_ns: int) -> bool:
    """Whether a look at this instant finds the timer over (rule F2)."""
    return timer.is_on == 0 and at_ns - timer.fed_ns > timer.timeout_ns
