"""A transmitter's radio (rule B), part by part: see reference/transmitter_radio.py."""

from radiosim.engine.fast.air import accrue_errors, begins, note_signal, set_level
from radiosim.engine.fast.transmitter_program import radio_rests
from radiosim.engine.fast.world import World, clear_due, copy_frame, log_attempt, log_frame, set_due
from radiosim.engine.plan_rows import ACKNOWLEDGING
from radiosim.engine.rules.slots import done_slot, end_slot, start_slot
from radiosim.engine.timeline import FOREVER_NS
from radiosim.trace import ACKNOWLEDGED, CUT, KEPT, POWER_CUT, RETRIES_USED_UP, SENT


def start_radio(w: World, i: int, now: int) -> None:
    """The radio is set up: packet numbers start again, nothing is in it."""
    transmitter = w.transmitter[i]
    transmitter.on, transmitter.busy, transmitter.number = 1, 0, -1
    radio_rests(w, i, now)


def stop_radio(w: World, i: int, now: int) -> None:
    """Power or settings are gone, and with them all that the radio held (rule A5)."""
    transmitter = w.transmitter[i]
    if transmitter.flying == 1:
        accrue_errors(w, now)
        note_signal(w, i, now)
        log_attempt(w, i, now, CUT)
    for f in range(transmitter.fill):
        log_frame(w, transmitter.fifo[f], now, POWER_CUT)
    transmitter.on = transmitter.busy = transmitter.fill = transmitter.flying = (
        transmitter.listening
    ) = 0
    for slot in (end_slot(i, w.n), done_slot(i, w.n), start_slot(i, w.n)):
        clear_due(w, slot)


def on_start(w: World, i: int, now: int) -> None:
    """An attempt goes on the air."""
    tx, transmitter = w.tx[i], w.transmitter[i]
    clear_due(w, start_slot(i, w.n))
    transmitter.listening = 0
    transmitter.tried += 1
    transmitter.fifo[0].attempts += 1
    accrue_errors(w, now)
    transmitter.flying = 1
    transmitter.start_ns, transmitter.end_ns = now, now + tx.frame_ns
    transmitter.hit_ns, transmitter.shut_out = FOREVER_NS, 0
    set_due(w, end_slot(i, w.n), transmitter.end_ns)
    set_level(w, i, now)
    begins(w, i, now)


def leave(w: World, i: int, now: int) -> None:
    """The transmitter goes out of range: what is on the air to or from it is lost."""
    transmitter = w.transmitter[i]
    transmitter.away = 1
    if transmitter.flying == 1:
        transmitter.faint = 1
        transmitter.hit_ns = min(transmitter.hit_ns, now)
    if w.ack_on == 1 and w.heard[i].listens == 1:
        w.heard[i].faint = 1


def listen(w: World, i: int, is_acknowledged: bool, now: int) -> None:
    """Wait for what ends this attempt: an acknowledgement, or the next one's time (B3, B4)."""
    tx, transmitter = w.tx[i], w.transmitter[i]
    transmitter.listening, transmitter.caught = 1, 0
    transmitter.listening_ns = now + tx.settle_ns
    transmitter.due_ns = now + tx.retry_ns
    transmitter.is_last = 1 if transmitter.tried > tx.retry_limit else 0
    if not is_acknowledged:
        wait_until_due(w, i)


def wait_until_due(w: World, i: int) -> None:
    """Set the alarm for the next attempt, or for the end of its retries."""
    transmitter = w.transmitter[i]
    if transmitter.is_last == 1:
        set_due(w, done_slot(i, w.n), transmitter.due_ns)
    else:
        set_due(w, start_slot(i, w.n), transmitter.due_ns)


def hold_on(w: World, i: int, until_ns: int) -> None:
    """A matched address keeps the radio listening to the packet's end, good or bad."""
    transmitter = w.transmitter[i]
    earliest_ns = until_ns + w.tx[i].settle_ns
    if earliest_ns > transmitter.due_ns:
        transmitter.due_ns = earliest_ns
        wait_until_due(w, i)


def take_acknowledgement(w: World, i: int, now: int) -> None:
    """A good acknowledgement has ended: the frame is done after the interrupt time."""
    w.transmitter[i].caught = 1
    clear_due(w, start_slot(i, w.n))
    set_due(w, done_slot(i, w.n), now + w.tx[i].interrupt_ns)


def on_done(w: World, i: int, now: int) -> None:
    """A frame is done or out of retries: the next in the FIFO, or rest."""
    tx, transmitter = w.tx[i], w.transmitter[i]
    clear_due(w, done_slot(i, w.n))
    if tx.acknowledge != ACKNOWLEDGING:
        outcome = SENT
    elif transmitter.caught == 1:
        outcome = ACKNOWLEDGED
    else:
        outcome = RETRIES_USED_UP if tx.flush_on_retries_used_up == 1 else KEPT
    transmitter.listening = 0
    log_frame(w, transmitter.fifo[0], now, outcome)
    if outcome == KEPT:
        transmitter.fifo[0].slot += 1
    else:
        transmitter.fill -= 1
        for f in range(transmitter.fill):
            copy_frame(transmitter.fifo[f], transmitter.fifo[f + 1])
        if tx.start_held == 1 and transmitter.fill > 0:
            transmitter.tried = 0
            set_due(w, start_slot(i, w.n), max(now, transmitter.fifo[0].ready_ns) + tx.settle_ns)
            return
    transmitter.busy = 0
    radio_rests(w, i, now)
