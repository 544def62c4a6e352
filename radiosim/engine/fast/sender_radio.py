"""A transmitter's radio (rule B), part by part: see reference/sender_radio.py."""

from radiosim.engine.fast.agenda import clear_due, set_due
from radiosim.engine.fast.air import begins
from radiosim.engine.fast.compiled import part
from radiosim.engine.fast.levels import set_level, settle
from radiosim.engine.fast.records import World
from radiosim.engine.fast.rows import copy_frame, log_attempt, log_frame
from radiosim.engine.fast.sender_program import radio_rests
from radiosim.engine.order import done_slot, end_slot, start_slot
from radiosim.engine.plan_rows import ANSWERED
from radiosim.engine.timeline import FOREVER_NS
from radiosim.trace import ACKNOWLEDGED, CUT, GIVEN_UP, KEPT, POWER_CUT, SENT


@part
def start_radio(w: World, i: int, now: int) -> None:
    """The radio is set up: packet numbers start again, nothing is in it."""
    sender = w.sender[i]
    sender.on, sender.busy, sender.number = 1, 0, -1
    radio_rests(w, i, now)


@part
def stop_radio(w: World, i: int, now: int) -> None:
    """Power or settings are gone, and with them all that the radio held (rule A5)."""
    sender = w.sender[i]
    if sender.flying == 1:
        settle(w, now)
        log_attempt(w, i, now, CUT)
    for f in range(sender.fill):
        log_frame(w, sender.fifo[f], now, POWER_CUT)
    sender.on = sender.busy = sender.fill = sender.flying = sender.listening = 0
    for slot in (end_slot(i, w.n), done_slot(i, w.n), start_slot(i, w.n)):
        clear_due(w, slot)


@part
def on_start(w: World, i: int, now: int) -> None:
    """An attempt goes on the air."""
    tx, sender = w.tx[i], w.sender[i]
    clear_due(w, start_slot(i, w.n))
    sender.listening = 0
    sender.tried += 1
    sender.fifo[0].attempts += 1
    settle(w, now)
    sender.flying = 1
    sender.start_ns, sender.end_ns = now, now + tx.frame_ns
    sender.hit_ns, sender.shut_out = FOREVER_NS, 0
    set_due(w, end_slot(i, w.n), sender.end_ns)
    set_level(w, i, now)
    begins(w, i, now)


@part
def leave(w: World, i: int, now: int) -> None:
    """The sender goes out of range: what is on the air to or from it is lost."""
    sender = w.sender[i]
    sender.away = 1
    if sender.flying == 1:
        sender.faint = 1
        sender.hit_ns = min(sender.hit_ns, now)
    if w.ack_on == 1 and w.heard[i].listens == 1:
        w.heard[i].faint = 1


@part
def listen(w: World, i: int, is_answered: bool, now: int) -> None:
    """Wait for what ends this attempt: an acknowledgement, or the next one's time (B3, B4)."""
    tx, sender = w.tx[i], w.sender[i]
    sender.listening, sender.caught = 1, 0
    sender.listening_ns = now + tx.settle_ns
    sender.due_ns = now + tx.retry_ns
    sender.is_last = 1 if sender.tried > tx.retry_limit else 0
    if not is_answered:
        wait_until_due(w, i)


@part
def wait_until_due(w: World, i: int) -> None:
    """Set the alarm for the next attempt, or for giving up."""
    sender = w.sender[i]
    if sender.is_last == 1:
        set_due(w, done_slot(i, w.n), sender.due_ns)
    else:
        set_due(w, start_slot(i, w.n), sender.due_ns)


@part
def hold_on(w: World, i: int, until_ns: int) -> None:
    """A matched address keeps the radio listening to the packet's end, good or bad."""
    sender = w.sender[i]
    earliest_ns = until_ns + w.tx[i].settle_ns
    if earliest_ns > sender.due_ns:
        sender.due_ns = earliest_ns
        wait_until_due(w, i)


@part
def take_acknowledgement(w: World, i: int, now: int) -> None:
    """A good acknowledgement has ended: the frame is done after the interrupt time."""
    w.sender[i].caught = 1
    clear_due(w, start_slot(i, w.n))
    set_due(w, done_slot(i, w.n), now + w.tx[i].interrupt_ns)


@part
def on_done(w: World, i: int, now: int) -> None:
    """A frame is done or given up: the next in the FIFO, or rest."""
    tx, sender = w.tx[i], w.sender[i]
    clear_due(w, done_slot(i, w.n))
    if tx.acknowledge != ANSWERED:
        outcome = SENT
    elif sender.caught == 1:
        outcome = ACKNOWLEDGED
    else:
        outcome = GIVEN_UP if tx.flush_on_give_up == 1 else KEPT
    sender.listening = 0
    log_frame(w, sender.fifo[0], now, outcome)
    if outcome == KEPT:
        sender.fifo[0].slot += 1
    else:
        sender.fill -= 1
        for f in range(sender.fill):
            copy_frame(sender.fifo[f], sender.fifo[f + 1])
        if tx.start_held == 1 and sender.fill > 0:
            sender.tried = 0
            set_due(w, start_slot(i, w.n), max(now, sender.fifo[0].ready_ns) + tx.settle_ns)
            return
    sender.busy = 0
    radio_rests(w, i, now)
