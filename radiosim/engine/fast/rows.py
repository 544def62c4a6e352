"""Rows of the trace, written into the world's tables."""

from radiosim.engine.fast.compiled import part
from radiosim.engine.fast.records import Frame, World


@part
def log_attempt(w: World, i: int, end_ns: int, fate: int) -> None:
    """An attempt is over."""
    row, transmitter = w.attempts[w.attempts_n], w.transmitter[i]
    frame = transmitter.fifo[0]
    w.attempts_n += 1
    row.stream = i
    row.frame = frame.frame
    row.attempt = frame.attempts
    row.slot = frame.slot
    row.number = frame.number
    row.start_ns = transmitter.start_ns
    row.end_ns = end_ns
    row.fate = fate


@part
def log_answer(w: World, end_ns: int, fate: int, takers: int) -> None:
    """An acknowledgement is over."""
    row = w.acknowledgements[w.acknowledgements_n]
    w.acknowledgements_n += 1
    row.stream = w.earner
    row.frame = w.earner_frame
    row.attempt = w.earner_attempt
    row.start_ns = w.ack_start_ns
    row.end_ns = end_ns
    row.fate = fate
    row.takers = takers


@part
def log_frame(w: World, frame: Frame, done_ns: int, outcome: int) -> None:
    """A frame is over at its transmitter's end, or kept for another slot."""
    row = w.frames[w.frames_n]
    w.frames_n += 1
    row.stream = frame.stream
    row.frame = frame.frame
    row.attempts = frame.attempts
    row.sampled_ns = frame.sampled_ns
    row.values_ns = frame.values_ns
    row.values_frame = frame.values_frame
    row.done_ns = done_ns
    row.outcome = outcome


@part
def log_read(w: World, held: Frame, read_ns: int, outcome: int) -> None:
    """An accepted frame leaves the FIFO, or the run ends with it there."""
    row = w.reads[w.reads_n]
    w.reads_n += 1
    row.stream = held.stream
    row.frame = held.frame
    row.sampled_ns = held.sampled_ns
    row.values_ns = held.values_ns
    row.values_frame = held.values_frame
    row.accepted_ns = held.accepted_ns
    row.read_ns = read_ns
    row.outcome = outcome


@part
def log_pass(w: World, start_ns: int, next_ns: int, frames: int) -> None:
    """A pass read frames."""
    row = w.passes[w.passes_n]
    w.passes_n += 1
    row.start_ns = start_ns
    row.next_ns = next_ns
    row.frames = frames


@part
def copy_frame(to: Frame, frame: Frame) -> None:
    """All that a frame says."""
    to.stream = frame.stream
    to.frame = frame.frame
    to.sampled_ns = frame.sampled_ns
    to.values_ns = frame.values_ns
    to.values_frame = frame.values_frame
    to.number = frame.number
    to.ready_ns = frame.ready_ns
    to.attempts = frame.attempts
    to.slot = frame.slot
    to.accepted_ns = frame.accepted_ns
