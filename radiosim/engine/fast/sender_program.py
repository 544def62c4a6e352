"""A transmitter's program (rule A), part by part: see reference/sender_program.py."""

from radiosim.engine.fast.agenda import clear_due, set_due
from radiosim.engine.fast.compiled import part
from radiosim.engine.fast.records import Frame, World
from radiosim.engine.fast.rows import copy_frame, log_frame
from radiosim.engine.order import sample_slot, start_slot, upload_slot
from radiosim.engine.plan_rows import QUEUE, REPLACE, WAIT
from radiosim.engine.rules.sampling import (
    AFTER_SEND,
    TIMER,
    busy_until,
    first_sample_at,
    next_tick,
    pause_until,
    turn_at,
)
from radiosim.trace import POWER_CUT, QUEUE_FULL, REPLACED, SKIPPED


@part
def upload(w: World, i: int, frame: Frame, now: int) -> None:
    """The program moves a frame over and gives the start signal (rules A6, B1, B6)."""
    tx, sender = w.tx[i], w.sender[i]
    if sender.on == 0:
        log_frame(w, frame, now, POWER_CUT)
        return
    if sender.fill >= tx.fifo_frames:
        log_frame(w, frame, now, QUEUE_FULL)
    else:
        sender.number = (sender.number + 1) & 3
        last = sender.fifo[sender.fill]
        copy_frame(last, frame)
        last.number = sender.number
        last.ready_ns = now + tx.upload_ns
        sender.fill += 1
    if sender.busy == 0:
        sender.busy = 1
        sender.tried = 0
        set_due(w, start_slot(i, w.n), now + tx.upload_ns + tx.settle_ns)


@part
def prepare(w: World, i: int, frame: Frame, until_ns: int, now: int) -> None:
    """Upload a frame at an instant, at once if that is now."""
    sender = w.sender[i]
    if until_ns <= now:
        sender.prepares = 0
        upload(w, i, frame, now)
        return
    copy_frame(sender.preparing, frame)
    sender.prepares = 1
    sender.prepared_ns = until_ns
    set_due(w, upload_slot(i, w.n), until_ns)


@part
def begin(w: World, i: int, frame: Frame, now: int) -> None:
    """Work on a frame until it can be uploaded (rule A4)."""
    tx, sender = w.tx[i], w.sender[i]
    free_ns = busy_until(tx, sender.base_ns, now, False)
    prepare(w, i, frame, free_ns + tx.prepare_ns, now)


@part
def radio_rests(w: World, i: int, now: int) -> None:
    """The radio has nothing more to do in this slot: on with what waited for it."""
    tx, sender = w.tx[i], w.sender[i]
    if sender.running == 0 or sender.paused == 1 or sender.prepares == 1:
        return
    if sender.remembers == 1:
        sender.remembers = 0
        free_ns = busy_until(tx, sender.base_ns, now, False)
        ready_ns = sender.memory.sampled_ns + tx.prepare_ns
        prepare(w, i, sender.memory, max(free_ns, ready_ns), now)
    elif tx.pacing != TIMER and sender.waits == 1:
        if tx.pacing == AFTER_SEND:
            sender.next_ns = pause_until(tx, sender.base_ns, now, sender.frames)
        else:
            sender.next_ns = turn_at(tx, sender.base_ns, sender.sampled_ns, now)
        sender.waits = 0
        set_due(w, sample_slot(i, w.n), sender.next_ns)


@part
def set_tick(w: World, i: int, after_ns: int) -> None:
    """Set the timer for its next sample (rule A1)."""
    sender = w.sender[i]
    sender.tick, at_ns = next_tick(w.tx[i], sender.base_ns, sender.tick, sender.frames, after_ns)
    set_due(w, sample_slot(i, w.n), at_ns)


@part
def sample(w: World, i: int, frame: Frame, now: int) -> None:
    """Read the controls; a frozen program finds the values of its last frame."""
    sender = w.sender[i]
    if sender.frozen == 0 or sender.has_values == 0:
        sender.has_values = 1
        sender.values_ns = now
        sender.values_frame = sender.frames
    frame.stream = i
    frame.frame = sender.frames
    frame.sampled_ns = now
    frame.values_ns = sender.values_ns
    frame.values_frame = sender.values_frame
    frame.number = -1
    frame.ready_ns = 0
    frame.attempts = 0
    frame.slot = 0
    frame.accepted_ns = 0
    sender.frames += 1


@part
def take(w: World, i: int, now: int) -> None:
    """One timer sample: to the radio, into memory, or away (rule A6)."""
    tx, sender = w.tx[i], w.sender[i]
    frame = sender.sampled
    sample(w, i, frame, now)
    is_free = sender.prepares == 0 and sender.remembers == 0
    if is_free and (sender.busy == 0 or tx.when_busy == QUEUE):
        begin(w, i, frame, now)
    elif tx.when_busy == WAIT and sender.remembers == 0:
        sender.remembers = 1
        copy_frame(sender.memory, frame)
    elif tx.when_busy == REPLACE:
        if sender.remembers == 1:
            log_frame(w, sender.memory, now, REPLACED)
        sender.remembers = 1
        copy_frame(sender.memory, frame)
    else:
        log_frame(w, frame, now, SKIPPED)


@part
def on_sample(w: World, i: int, now: int) -> None:
    """The program samples."""
    sender = w.sender[i]
    if w.tx[i].pacing == TIMER:
        sender.tick += 1
        take(w, i, now)
        set_tick(w, i, now)
        return
    clear_due(w, sample_slot(i, w.n))
    sender.waits = 1
    sender.sampled_ns = now
    sample(w, i, sender.sampled, now)
    begin(w, i, sender.sampled, now)


@part
def on_upload(w: World, i: int, now: int) -> None:
    """A frame is ready."""
    sender = w.sender[i]
    clear_due(w, upload_slot(i, w.n))
    sender.prepares = 0
    upload(w, i, sender.preparing, now)


@part
def start_program(w: World, i: int, now: int) -> None:
    """The program has booted: its grid starts afresh."""
    tx, sender = w.tx[i], w.sender[i]
    sender.running, sender.paused = 1, 0
    sender.base_ns, sender.tick, sender.has_values = now, 0, 0
    if tx.pacing == TIMER:
        set_tick(w, i, now - 1)
    else:
        sender.waits = 0
        sender.next_ns = first_sample_at(tx, now, sender.frames)
        set_due(w, sample_slot(i, w.n), sender.next_ns)


@part
def halt_program(w: World, i: int) -> None:
    """Nothing of the program's own happens any more."""
    clear_due(w, sample_slot(i, w.n))
    clear_due(w, upload_slot(i, w.n))


@part
def stop_program(w: World, i: int, now: int) -> None:
    """Power cut or reset: what the program held in memory is gone."""
    sender = w.sender[i]
    halt_program(w, i)
    sender.running = sender.paused = 0
    if sender.prepares == 1:
        log_frame(w, sender.preparing, now, POWER_CUT)
    if sender.remembers == 1:
        log_frame(w, sender.memory, now, POWER_CUT)
    sender.prepares = sender.remembers = 0


@part
def resume_program(w: World, i: int, now: int) -> None:
    """It goes on where it stood."""
    tx, sender = w.tx[i], w.sender[i]
    sender.paused = 0
    if tx.pacing == TIMER:
        set_tick(w, i, now - 1)
    elif sender.waits == 0:
        sender.next_ns = max(sender.next_ns, now)
        set_due(w, sample_slot(i, w.n), sender.next_ns)
    if sender.prepares == 1:
        prepare(w, i, sender.preparing, max(sender.prepared_ns, now), now)
    elif sender.busy == 0:
        radio_rests(w, i, now)
