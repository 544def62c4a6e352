"""A transmitter's program (rule A), part by part: see reference/transmitter_program.py."""

from radiosim.engine.fast.world import Frame, World, clear_due, copy_frame, log_frame, set_due
from radiosim.engine.plan_rows import QUEUE, REPLACE, WAIT
from radiosim.engine.rules.slots import sample_slot, start_slot, upload_slot
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
from radiosim.trace import POWER_CUT, QUEUE_FULL, REPLACED, SKIPPED


def upload(w: World, i: int, frame: Frame, now: int) -> None:
    """The program moves a frame over and gives the start signal (rules A6, B1, B6)."""
    tx, transmitter = w.tx[i], w.transmitter[i]
    if transmitter.on == 0:
        log_frame(w, frame, now, POWER_CUT)
        return
    if transmitter.fill >= tx.fifo_frames:
        log_frame(w, frame, now, QUEUE_FULL)
    else:
        transmitter.number = (transmitter.number + 1) & 3
        last = transmitter.fifo[transmitter.fill]
        copy_frame(last, frame)
        last.number = transmitter.number
        last.ready_ns = now + tx.upload_ns
        transmitter.fill += 1
    if transmitter.busy == 0:
        transmitter.busy = 1
        transmitter.tried = 0
        set_due(w, start_slot(i, w.n), now + tx.upload_ns + tx.settle_ns)


def prepare(w: World, i: int, frame: Frame, until_ns: int, now: int) -> None:
    """Upload a frame at an instant, at once if that is now."""
    transmitter = w.transmitter[i]
    if until_ns <= now:
        transmitter.prepares = 0
        upload(w, i, frame, now)
        return
    copy_frame(transmitter.preparing, frame)
    transmitter.prepares = 1
    transmitter.prepared_ns = until_ns
    set_due(w, upload_slot(i, w.n), until_ns)


def begin(w: World, i: int, frame: Frame, now: int) -> None:
    """Work on a frame until it can be uploaded (rule A4)."""
    tx, transmitter = w.tx[i], w.transmitter[i]
    free_ns = busy_until(tx, transmitter.base_ns, now, False)
    prepare(w, i, frame, free_ns + tx.prepare_ns, now)


def radio_rests(w: World, i: int, now: int) -> None:
    """The radio has nothing more to do in this slot: on with what waited for it."""
    tx, transmitter = w.tx[i], w.transmitter[i]
    if transmitter.running == 0 or transmitter.paused == 1 or transmitter.prepares == 1:
        return
    if transmitter.remembers == 1:
        transmitter.remembers = 0
        free_ns = busy_until(tx, transmitter.base_ns, now, False)
        ready_ns = transmitter.memory.sampled_ns + tx.prepare_ns
        prepare(w, i, transmitter.memory, max(free_ns, ready_ns), now)
    elif tx.pacing != TIMER and transmitter.waits == 1:
        if tx.pacing == AFTER_SEND:
            transmitter.next_ns = pause_until(tx, transmitter.base_ns, now, transmitter.frames)
        else:
            transmitter.next_ns = turn_at(tx, transmitter.base_ns, transmitter.sampled_ns, now)
        transmitter.waits = 0
        set_due(w, sample_slot(i, w.n), transmitter.next_ns)


def set_tick(w: World, i: int, after_ns: int) -> None:
    """Set the timer for its next sample (rule A1)."""
    transmitter = w.transmitter[i]
    transmitter.tick, transmitter.dithered_ns, at_ns = next_tick(
        w.tx[i],
        transmitter.base_ns,
        transmitter.tick,
        transmitter.dithered_ns,
        transmitter.frames,
        after_ns,
    )
    set_due(w, sample_slot(i, w.n), at_ns)


def sample(w: World, i: int, frame: Frame, now: int) -> None:
    """Read the controls; a stale program finds the values of its last frame."""
    transmitter = w.transmitter[i]
    if transmitter.stale == 0 or transmitter.has_values == 0:
        transmitter.has_values = 1
        transmitter.values_ns = now
        transmitter.values_frame = transmitter.frames
    frame.stream = i
    frame.frame = transmitter.frames
    frame.sampled_ns = now
    frame.values_ns = transmitter.values_ns
    frame.values_frame = transmitter.values_frame
    frame.number = -1
    frame.ready_ns = 0
    frame.attempts = 0
    frame.slot = 0
    frame.accepted_ns = 0
    transmitter.frames += 1


def take(w: World, i: int, now: int) -> None:
    """One timer sample: to the radio, into memory, or away (rule A6)."""
    tx, transmitter = w.tx[i], w.transmitter[i]
    frame = transmitter.sampled
    sample(w, i, frame, now)
    is_free = transmitter.prepares == 0 and transmitter.remembers == 0
    if is_free and (transmitter.busy == 0 or tx.when_busy == QUEUE):
        begin(w, i, frame, now)
    elif tx.when_busy == WAIT and transmitter.remembers == 0:
        transmitter.remembers = 1
        copy_frame(transmitter.memory, frame)
    elif tx.when_busy == REPLACE:
        if transmitter.remembers == 1:
            log_frame(w, transmitter.memory, now, REPLACED)
        transmitter.remembers = 1
        copy_frame(transmitter.memory, frame)
    else:
        log_frame(w, frame, now, SKIPPED)


def on_sample(w: World, i: int, now: int) -> None:
    """The program samples."""
    transmitter = w.transmitter[i]
    tx = w.tx[i]
    if tx.pacing == TIMER:
        transmitter.dithered_ns += dither_of(tx, transmitter.base_ns, transmitter.tick)
        transmitter.tick += 1
        take(w, i, now)
        set_tick(w, i, now)
        return
    clear_due(w, sample_slot(i, w.n))
    transmitter.waits = 1
    transmitter.sampled_ns = now
    sample(w, i, transmitter.sampled, now)
    begin(w, i, transmitter.sampled, now)


def on_upload(w: World, i: int, now: int) -> None:
    """A frame is ready."""
    transmitter = w.transmitter[i]
    clear_due(w, upload_slot(i, w.n))
    transmitter.prepares = 0
    upload(w, i, transmitter.preparing, now)


def start_program(w: World, i: int, now: int) -> None:
    """The program has booted: its grid starts afresh."""
    tx, transmitter = w.tx[i], w.transmitter[i]
    transmitter.running, transmitter.paused = 1, 0
    transmitter.base_ns, transmitter.tick, transmitter.has_values = now, 0, 0
    transmitter.dithered_ns = 0
    if tx.pacing == TIMER:
        set_tick(w, i, now - 1)
    else:
        transmitter.waits = 0
        transmitter.next_ns = first_sample_at(tx, now, transmitter.frames)
        set_due(w, sample_slot(i, w.n), transmitter.next_ns)


def halt_program(w: World, i: int) -> None:
    """Nothing of the program's own happens any more."""
    clear_due(w, sample_slot(i, w.n))
    clear_due(w, upload_slot(i, w.n))


def stop_program(w: World, i: int, now: int) -> None:
    """Power cut or reset: what the program held in memory is gone."""
    transmitter = w.transmitter[i]
    halt_program(w, i)
    transmitter.running = transmitter.paused = 0
    if transmitter.prepares == 1:
        log_frame(w, transmitter.preparing, now, POWER_CUT)
    if transmitter.remembers == 1:
        log_frame(w, transmitter.memory, now, POWER_CUT)
    transmitter.prepares = transmitter.remembers = 0


def resume_program(w: World, i: int, now: int) -> None:
    """Lets the program go on where it stood."""
    tx, transmitter = w.tx[i], w.transmitter[i]
    transmitter.paused = 0
    if tx.pacing == TIMER:
        set_tick(w, i, now - 1)
    elif transmitter.waits == 0:
        transmitter.next_ns = max(transmitter.next_ns, now)
        set_due(w, sample_slot(i, w.n), transmitter.next_ns)
    if transmitter.prepares == 1:
        prepare(w, i, transmitter.preparing, max(transmitter.prepared_ns, now), now)
    elif transmitter.busy == 0:
        radio_rests(w, i, now)
