"""The receiver's radio (rule D), part by part: see reference/receiver_radio.py."""

from radiosim.chance import ONE_53
from radiosim.engine.fast.air import (
    accrue_errors,
    accrue_flight,
    addresses,
    cause,
    is_bad,
    is_faint,
    is_heard,
    is_too_faint,
    note_signal,
    set_heard,
    spoil,
)
from radiosim.engine.fast.receiver_program import wake
from radiosim.engine.fast.transmitter_radio import (
    hold_on,
    listen,
    take_acknowledgement,
    wait_until_due,
)
from radiosim.engine.fast.world import (
    World,
    clear_due,
    copy_frame,
    log_acknowledgement,
    log_attempt,
    log_read,
    set_due,
)
from radiosim.engine.plan_rows import ACKNOWLEDGING
from radiosim.engine.rules.reception import (
    acceptance,
    catches,
    checks_duplicates,
    draws,
    is_acknowledged,
    takes_acknowledgement,
    takes_attempt,
)
from radiosim.engine.rules.slots import (
    acknowledgement_end_slot,
    acknowledgement_start_slot,
    done_slot,
    end_slot,
)
from radiosim.engine.timeline import FOREVER_NS
from radiosim.trace import (
    ACK_CHANCE,
    ACK_COLLISION,
    ACK_CUT,
    ACK_FAINT,
    CHANCE,
    LOST,
    NEW,
    TAKEN,
    UNHEARD,
)


def start_receiver(w: World, now: int) -> None:
    """The radio listens."""
    w.on_since_ns = w.listening_ns = now


def empty_fifo(w: World, now: int) -> None:
    """Throw away what waits."""
    for f in range(w.fill):
        log_read(w, w.fifo[f], now, LOST)
    w.fill = 0


def stop_receiver(w: World, now: int) -> None:
    """It loses power or its settings: FIFO, packet memory and acknowledge are gone (rule E3)."""
    w.on_since_ns = w.listening_ns = FOREVER_NS
    empty_fifo(w, now)
    for m in range(w.n):
        w.memory[m].known = 0
    if w.acknowledging == 1:
        if w.ack_on == 1:
            log_acknowledgement(w, now, ACK_CUT, 0)
        acknowledgement_is_over(w)


def acknowledgement_is_over(w: World) -> None:
    """The acknowledgement is over; who did not hear it goes on to the next attempt."""
    clear_due(w, acknowledgement_start_slot(w.n))
    clear_due(w, acknowledgement_end_slot(w.n))
    w.ack_on = w.acknowledging = 0
    if awaits(w, w.earner, w.earner_frame, w.earner_attempt):
        wait_until_due(w, w.earner)


def awaits(w: World, i: int, frame: int, attempt: int) -> bool:
    """Whether a transmitter still waits for an acknowledgement to this attempt."""
    transmitter = w.transmitter[i]
    if transmitter.listening == 0 or transmitter.caught == 1:
        return False
    return transmitter.fifo[0].frame == frame and transmitter.fifo[0].attempts == attempt


def known_same(w: World, i: int) -> int:
    """Whether the last accepted frame is this one, by packet number and CRC (rule D3).

    1 yes, 0 no, −1: only the bytes tell.
    """
    frame, last = w.transmitter[i].fifo[0], w.memory[w.tx[i].memory]
    if not checks_duplicates(w.tx[i].acknowledge):
        return 0
    if last.known == 0 or last.number != frame.number:
        return 0
    if last.stream == i and last.frame == frame.frame:
        return 1
    return -1


def fate_before_acceptance(w: World, i: int, now: int) -> tuple[int, int]:
    """What takes the flight that ends now, chance included, and what chance draws for its
    acknowledgement.

    NEW: it is a good frame.
    """
    transmitter = w.transmitter[i]
    if w.rx.weighs == 1:
        accrue_flight(w, i, now)
    is_hit = transmitter.hit_ns != FOREVER_NS or transmitter.shut_out == 1
    fate = cause(w, i, is_faint(w, i), is_hit, now)
    if fate != NEW:
        return fate, ONE_53
    frame = transmitter.fifo[0]
    drawn, ack_drawn = draws(w.tx[i], frame.frame, frame.attempts)
    return CHANCE if takes_attempt(w.tx[i], drawn, transmitter.is_bad == 1) else NEW, ack_drawn


def must_ask(w: World, i: int, now: int) -> bool:
    """Whether two different frames must be compared byte by byte before this flight can end.

    A full FIFO takes neither a new frame nor a duplicate.
    """
    if w.fill >= w.rx.fifo_frames or known_same(w, i) != -1:
        return False
    return fate_before_acceptance(w, i, now)[0] == NEW


def accepts(w: World, i: int, now: int) -> int:
    """What becomes of a good frame; a new one goes into the FIFO (rules D2 to D4)."""
    tx, frame = w.tx[i], w.transmitter[i].fifo[0]
    same = known_same(w, i)
    if same == -1:
        same = w.same
    fate = acceptance(same == 1, w.fill, w.rx.fifo_frames)
    if fate == NEW:
        memory = w.memory[tx.memory]
        memory.known = 1
        memory.stream = i
        memory.frame = frame.frame
        memory.number = frame.number
        memory.values_ns = frame.values_ns
        memory.values_frame = frame.values_frame
        held = w.fifo[w.fill]
        copy_frame(held, frame)
        held.accepted_ns = now + w.rx.interrupt_ns
        w.fill += 1
        wake(w, now)
    return fate


def acknowledge_at(w: World, i: int, frame: int, attempt: int, ack_drawn_53: int, now: int) -> None:
    """A frame that ends now earns an acknowledgement: the receiver turns round (rule D1)."""
    start_ns = now + w.rx.settle_ns
    w.listening_ns = start_ns + w.tx[i].ack_ns + w.rx.settle_ns
    w.acknowledging, w.earner = 1, i
    w.ack_drawn_53 = ack_drawn_53
    w.earner_frame, w.earner_attempt = frame, attempt
    set_due(w, acknowledgement_start_slot(w.n), start_ns)


def on_end(w: World, i: int, now: int) -> None:
    """An attempt ends: its fate, and what its transmitter and the receiver do next."""
    tx, transmitter, rx = w.tx[i], w.transmitter[i], w.rx
    clear_due(w, end_slot(i, w.n))
    accrue_errors(w, now)
    fate, ack_drawn_53 = fate_before_acceptance(w, i, now)
    note_signal(w, i, now)
    transmitter.flying = 0
    if fate == NEW:
        fate = accepts(w, i, now)
    acknowledged = is_acknowledged(fate, tx.acknowledge, rx.acknowledge_when_full)
    if acknowledged:
        attempt = transmitter.fifo[0].attempts
        acknowledge_at(w, i, transmitter.fifo[0].frame, attempt, ack_drawn_53, now)
    log_attempt(w, i, now, fate)
    if tx.acknowledge == ACKNOWLEDGING:
        listen(w, i, acknowledged, now)
    else:
        set_due(w, done_slot(i, w.n), now)


def on_acknowledgement_start(w: World, now: int) -> None:
    """The acknowledgement goes on the air: who catches it (rule B3)?"""
    clear_due(w, acknowledgement_start_slot(w.n))
    tx = w.tx[w.earner]
    w.ack_on, w.ack_start_ns, w.ack_hit = 1, now, 0
    spoil(w, now)
    w.ack_lost = 1 if takes_acknowledgement(tx, w.ack_drawn_53, is_bad(w, now)) else 0
    end_ns = now + tx.ack_ns
    set_due(w, acknowledgement_end_slot(w.n), end_ns)
    for j in range(w.n):
        transmitter, heard = w.transmitter[j], w.heard[j]
        heard.listens = 0
        if (
            w.tx[j].address_of != tx.address_of
            or transmitter.listening == 0
            or transmitter.caught == 1
        ):
            continue
        if not catches(w.tx[j], transmitter.listening_ns, now):
            continue
        heard.listens = 1
        heard.frame, heard.attempt = transmitter.fifo[0].frame, transmitter.fifo[0].attempts
        set_heard(w, j, now)
        if w.ack_hit == 0 and not earned(w, j) and addresses(w, heard, j, now):
            hold_on(w, j, end_ns)


def earned(w: World, i: int) -> bool:
    """Whether transmitter i earned the acknowledgement by the attempt for which it listens."""
    return i == w.earner and awaits(w, i, w.earner_frame, w.earner_attempt)


def why_untaken(w: World, now: int) -> int:
    """What became of an acknowledgement that nobody took."""
    if w.ack_hit == 1:
        return ACK_COLLISION
    i = w.earner
    heard = w.heard[i]
    is_earners = heard.frame == w.earner_frame and heard.attempt == w.earner_attempt
    if heard.listens == 1 and is_earners:
        if is_too_faint(w, i, now):
            return ACK_FAINT
        if heard.hit_ns != FOREVER_NS:
            return ACK_COLLISION
    return ACK_CHANCE if w.ack_lost == 1 else UNHEARD


def on_acknowledgement_end(w: World, now: int) -> None:
    """The acknowledgement is over."""
    accrue_errors(w, now)
    takers = 0
    if w.ack_hit == 0 and w.ack_lost == 0:
        for j in range(w.n):
            heard = w.heard[j]
            if heard.listens == 0 or not is_heard(w, j):
                continue
            if awaits(w, j, heard.frame, heard.attempt):
                take_acknowledgement(w, j, now)
                takers |= 1 << j
    log_acknowledgement(w, now, TAKEN if takers else why_untaken(w, now), takers)
    acknowledgement_is_over(w)
