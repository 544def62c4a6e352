"""The loop: whatever is due first happens, and of two things at one instant the lower slot."""

from collections.abc import Sequence

from radiosim.engine.fast.air import jam
from radiosim.engine.fast.noise import on_noise
from radiosim.engine.fast.receiver_program import (
    log_pass_under_way,
    on_interrupt,
    on_pass,
    pause_receiver_program,
    resume_receiver_program,
    start_receiver_program,
    stop_receiver_program,
)
from radiosim.engine.fast.receiver_radio import (
    empty_fifo,
    must_ask,
    on_acknowledgement_end,
    on_acknowledgement_start,
    on_end,
    start_receiver,
    stop_receiver,
)
from radiosim.engine.fast.transmitter_program import (
    halt_program,
    on_sample,
    on_upload,
    resume_program,
    start_program,
    stop_program,
)
from radiosim.engine.fast.transmitter_radio import leave, on_done, on_start, start_radio, stop_radio
from radiosim.engine.fast.world import (
    NEVER,
    ROWS,
    SLOT_BITS,
    World,
    first_due,
    log_frame,
    log_read,
    set_due,
)
from radiosim.engine.plan_rows import (
    COMES_BACK,
    FIFO_EMPTIED,
    GOES_AWAY,
    JAM_BEGINS,
    JAM_ENDS,
    NOISE_PASSES,
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    RADIO_STARTS,
    RADIO_STOPS,
    VALUES_FRESH,
    VALUES_STALE,
)
from radiosim.engine.rules.slots import (
    acknowledgement_end_slot,
    acknowledgement_start_slot,
    done_slot,
    pass_slot,
    read_slot,
    sample_slot,
    start_slot,
    step_slot,
    upload_slot,
)
from radiosim.machine import compiled
from radiosim.trace import UNDER_WAY, WAITING

END, TABLE_FULL, ASK, STEP = range(4)
"""Why the loop stops: the end; a table wants emptying; bytes must be compared; a step is due."""


def step_transmitter(w: World, i: int, kind: int, now: int) -> None:
    """One step of a transmitter (rules A5 and E3)."""
    if kind == PROGRAM_STARTS:
        start_program(w, i, now)
    elif kind == PROGRAM_STOPS:
        stop_program(w, i, now)
    elif kind == PROGRAM_PAUSES:
        halt_program(w, i)
        w.transmitter[i].paused = 1
    elif kind == PROGRAM_RESUMES:
        resume_program(w, i, now)
    elif kind == RADIO_STARTS:
        start_radio(w, i, now)
    elif kind == RADIO_STOPS:
        stop_radio(w, i, now)
    elif kind == VALUES_STALE:
        w.transmitter[i].stale = 1
    elif kind == VALUES_FRESH:
        w.transmitter[i].stale = 0
    elif kind == GOES_AWAY:
        leave(w, i, now)
    elif kind == COMES_BACK:
        w.transmitter[i].away = 0


def step_receiver(w: World, kind: int, now: int) -> None:
    """One step of the receiver (rule E3)."""
    if kind == PROGRAM_STARTS:
        start_receiver_program(w, now)
    elif kind == PROGRAM_STOPS:
        stop_receiver_program(w)
    elif kind == PROGRAM_PAUSES:
        pause_receiver_program(w, now)
    elif kind == PROGRAM_RESUMES:
        resume_receiver_program(w, now)
    elif kind == RADIO_STARTS:
        start_receiver(w, now)
    elif kind == RADIO_STOPS:
        stop_receiver(w, now)
    elif kind == FIFO_EMPTIED:
        empty_fifo(w, now)


Worlds = Sequence[World]
"""An array of one world: to hand over a record alone takes as long as hundreds of events."""


@compiled
def take_step(
    worlds: Worlds, unit: int, kind: int, now: int, stream: int, frame: int, asks: int
) -> None:
    """One step of any unit; the receiver is unit n, the air n + 1.

    `stream`, `frame` and `asks`: see Step.
    """
    w = worlds[0]
    if kind == NOISE_PASSES:
        on_noise(w, stream, frame, asks, now)
    elif kind == JAM_BEGINS:
        jam(w, now)
    elif kind == JAM_ENDS:
        w.jammed = 0
    elif unit == w.n:
        step_receiver(w, kind, now)
    else:
        step_transmitter(w, unit, kind, now)


@compiled
def set_stop(worlds: Worlds, at_ns: int) -> None:
    """The loop stops when the step of an instant is due."""
    w = worlds[0]
    set_due(w, step_slot(w.n), at_ns)


def happen(w: World, slot: int, now: int) -> None:
    """What is due in a slot happens; steps apart, which come from outside."""
    n = w.n
    if slot < n:
        w.acknowledged = 0
        on_end(w, slot, now)
    elif slot == acknowledgement_end_slot(n):
        on_acknowledgement_end(w, now)
    elif slot == read_slot(n):
        on_interrupt(w, now)
    elif slot < step_slot(n):
        on_done(w, slot - done_slot(0, n), now)
    elif slot < acknowledgement_start_slot(n):
        i = (slot - upload_slot(0, n)) >> 1
        if slot == sample_slot(i, n):
            on_sample(w, i, now)
        else:
            on_upload(w, i, now)
    elif slot == acknowledgement_start_slot(n):
        on_acknowledgement_start(w, now)
    elif slot < pass_slot(n):
        on_start(w, slot - start_slot(0, n), now)
    else:
        on_pass(w, now)


@compiled
def advance(worlds: Worlds) -> int:
    """Run until there is a reason to stop."""
    w = worlds[0]
    n = w.n
    while (
        w.attempts_n < ROWS
        and w.acknowledgements_n < ROWS
        and w.frames_n < ROWS
        and w.reads_n < ROWS
        and w.passes_n < ROWS
    ):
        first = first_due(w)
        if first == NEVER:
            return END
        slot, now = first & ((1 << SLOT_BITS) - 1), first >> SLOT_BITS
        if slot == step_slot(n):
            return STEP
        if slot < n and w.acknowledged == 0 and must_ask(w, slot, now):
            w.asking = slot
            return ASK
        happen(w, slot, now)
    return TABLE_FULL


@compiled
def close(worlds: Worlds) -> None:
    """What is still under way at the end."""
    w = worlds[0]
    for i in range(w.n):
        transmitter = w.transmitter[i]
        for f in range(transmitter.fill):
            log_frame(w, transmitter.fifo[f], w.until_ns, UNDER_WAY)
        if transmitter.prepares == 1:
            log_frame(w, transmitter.preparing, w.until_ns, UNDER_WAY)
        if transmitter.remembers == 1:
            log_frame(w, transmitter.memory, w.until_ns, UNDER_WAY)
    log_pass_under_way(w)
    for f in range(w.fill):
        log_read(w, w.fifo[f], w.until_ns, WAITING)
