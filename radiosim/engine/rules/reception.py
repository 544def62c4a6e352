"""What becomes of a signal (rules C3 to C5, D1 to D4, B3)."""

from radiosim.chance import LOSS, ONE_53, WORD, branched, fraction_53, philox4x32
from radiosim.engine.plan_rows import ACKNOWLEDGING, PLAIN, Rx, Tx
from radiosim.engine.rules.timing import drifting_point, drifting_until
from radiosim.marks import rule
from radiosim.trace import COLLISION, DEAF, DUPLICATE, FULL, NEW, OFF, OUT_OF_RANGE


@rule
def draws(tx: Tx, frame: int, attempt: int) -> tuple[int, int]:
    """What chance draws for an attempt and for its acknowledgement, below 2⁵³ (rule C3)."""
    if tx.loss_53 | tx.ack_loss_53 | tx.bad_loss_53 | tx.bad_ack_loss_53 == 0:
        return ONE_53, ONE_53
    what = branched(LOSS, tx.branch)
    a, b, c, d = philox4x32(frame & WORD, frame >> 32, attempt, what, tx.key_low, tx.key_high)
    return fraction_53(a, b), fraction_53(c, d)


@rule
def takes_attempt(tx: Tx, drawn_53: int, is_bad: bool) -> bool:
    """Whether chance takes an attempt, by its draw and the air's burst as it began."""
    return drawn_53 < (tx.bad_loss_53 if is_bad else tx.loss_53)


@rule
def takes_acknowledgement(tx: Tx, drawn_53: int, is_bad: bool) -> bool:
    """Whether chance takes an acknowledgement."""
    return drawn_53 < (tx.bad_ack_loss_53 if is_bad else tx.ack_loss_53)


@rule
def deaf_span_meets(rx: Rx, base_ns: int, start_ns: int, end_ns: int) -> bool:
    """Whether the receiver's program stops listening somewhere in [start, end) (rule D1).

    `base_ns`: when that program started.
    """
    for j in range(rx.deafs):
        span = rx.deaf[j]
        since_ns = base_ns + span.offset_ns
        span_ns = end_ns - 1 - since_ns
        points = drifting_until(span_ns, span.every_ns, rx.ppb, rx.drift, since_ns)
        if points == 0:
            continue
        began_ns = drifting_point(points - 1, span.every_ns, rx.ppb, rx.drift, since_ns)
        if since_ns + began_ns + span.takes_ns > start_ns:
            return True
    return False


@rule
def is_deaf_between(
    rx: Rx, base_ns: int, paused_ns: int, resumed_ns: int, start_ns: int, end_ns: int
) -> bool:
    """Whether the receiver does not listen somewhere in [start, end), by its program's doing.

    `paused_ns` and `resumed_ns`: when that program last stood still (rule E3, hang); both its
    base if never, the second later than any instant while it does. What it was doing to its
    radio as it stopped, it does until it goes on.
    """
    until_ns = min(end_ns, paused_ns)
    if start_ns < until_ns and deaf_span_meets(rx, base_ns, max(start_ns, base_ns), until_ns):
        return True
    if resumed_ns < end_ns and deaf_span_meets(rx, base_ns, max(start_ns, resumed_ns), end_ns):
        return True
    if start_ns >= resumed_ns or end_ns <= paused_ns:
        return False
    return deaf_span_meets(rx, base_ns, paused_ns, paused_ns + 1)


@rule
def is_deaf_in_boot(rx: Rx, running: bool, base_ns: int, start_ns: int) -> bool:
    """Whether the receiver's program was down at or after an instant, and its radio deaf with it.

    `base_ns`: when that program last started (rule E3).
    """
    return rx.deaf_in_boot == 1 and (not running or start_ns < base_ns)


@rule
def hearing(
    start_ns: int, on_since_ns: int, listening_ns: int, faint: bool, deaf: bool, hit: bool
) -> int:
    """Cause that takes an attempt before chance does, the first that applies; else NEW (C5).

    `on_since_ns`: since when the radio is up; `listening_ns`: since when it listens without a
    break (later than now while it acknowledges); `faint`: out of range.
    """
    if start_ns < on_since_ns:
        return OFF
    if faint:
        return OUT_OF_RANGE
    if start_ns < listening_ns or deaf:
        return DEAF
    return COLLISION if hit else NEW


@rule
def acceptance(same_packet: bool, fill: int, depth: int) -> int:
    """What the receiver's radio makes of a good frame (rules D2 to D4)."""
    if fill >= depth:
        return FULL
    return DUPLICATE if same_packet else NEW


@rule
def is_acknowledged(fate: int, acknowledge: int, acknowledge_when_full: int) -> bool:
    """Whether an attempt of this fate earns an acknowledgement (rules B2, D2, D3)."""
    if acknowledge != ACKNOWLEDGING:
        return False
    return fate in (NEW, DUPLICATE) or (fate == FULL and acknowledge_when_full == 1)


@rule
def checks_duplicates(acknowledge: int) -> bool:
    """Whether frames of this format carry a packet number to compare (rule B2)."""
    return acknowledge != PLAIN


@rule
def catches(tx: Tx, listening_ns: int, ack_start_ns: int) -> bool:
    """Whether a transmitter that listens since `listening_ns` catches an acknowledgement (rule B3).

    It must hear the whole of it, and its address must be complete within the window.
    """
    if ack_start_ns < listening_ns:
        return False
    return ack_start_ns + tx.ack_address_ns <= listening_ns + tx.window_ns


@rule
def locks(start_ns: int, address_ns: int, hit_ns: int, now_ns: int) -> bool:
    """Whether a frame that the receiver could hear holds it by now (rule C2).

    `hit_ns`: when something first spoilt it. From a matched address to its end the receiver
    takes no other frame.
    """
    return start_ns + address_ns <= now_ns and hit_ns >= start_ns + address_ns
