"""The compiled air: levels, errors, who is on the air, what spoils what (rules C1 to C4)."""

from radiosim.engine.fast.world import Heard, World
from radiosim.engine.rules.levels import (
    budgets,
    error_rate,
    errors_until,
    gain_at,
    next_shadow,
    shadow_draw,
    state_ns,
)
from radiosim.engine.rules.reception import hearing, is_deaf_between, is_deaf_in_boot, locks
from radiosim.engine.timeline import FOREVER_NS
from radiosim.radio.bit_errors import survives
from radiosim.trace import NEW


def level_beside(w: World, i: int) -> float:
    """Level of all flights but that of i at the receiver, mW, in file order."""
    level_mw = 0.0
    for j in range(w.n):
        if j != i and w.transmitter[j].flying == 1:
            level_mw += w.transmitter[j].level_mw
    return level_mw


def power_beside(w: World, i: int) -> float:
    """Power of all flights but that of i, mW, in file order; i = −1: of all."""
    power_mw = 0.0
    for j in range(w.n):
        if j != i and w.transmitter[j].flying == 1:
            power_mw += w.tx[j].power_mw
    return power_mw


def inside_mw(w: World, i: int) -> float:
    """What the link's other transmitters amount to where transmitter i listens (rule C4)."""
    return power_beside(w, i) * w.rx.beside_gain * w.rx.own_weight


def accrue_flight(w: World, i: int, now: int) -> None:
    """Add up the errors of a flight by now; twice at one instant is once."""
    transmitter = w.transmitter[i]
    transmitter.errors, spoilt_ns = errors_until(
        w.rx,
        True,
        transmitter.level_mw,
        transmitter.quiet_rate,
        level_beside(w, i) * w.rx.own_weight,
        transmitter.errors,
        transmitter.budget,
        transmitter.accrued_ns,
        now,
    )
    transmitter.accrued_ns = now
    transmitter.hit_ns = min(transmitter.hit_ns, spoilt_ns)


def accrue_heard(w: World, i: int, now: int) -> None:
    """Add up the errors of the acknowledgement where transmitter i hears it."""
    heard = w.heard[i]
    heard.errors, spoilt_ns = errors_until(
        w.rx,
        False,
        heard.level_mw,
        heard.quiet_rate,
        inside_mw(w, i),
        heard.errors,
        heard.budget,
        heard.accrued_ns,
        now,
    )
    heard.accrued_ns = now
    heard.hit_ns = min(heard.hit_ns, spoilt_ns)


def accrue_errors(w: World, now: int) -> None:
    """Add up the errors of all that is on the air, since who sends is about to change."""
    if w.rx.weighs == 0:
        return
    for i in range(w.n):
        if w.transmitter[i].flying == 1:
            accrue_flight(w, i, now)
        if w.ack_on == 1 and w.heard[i].listens == 1:
            accrue_heard(w, i, now)


def is_bad(w: World, now: int) -> bool:
    """Whether an instant falls into one of the air's bad bursts; instants never go back."""
    if w.rx.good_ns == 0:
        return False
    while w.state_ends_ns <= now:
        w.burst += 1
        w.bad = 1 - w.bad
        w.state_ends_ns += state_ns(w.rx, w.burst, w.bad == 1)
    return w.bad == 1


def shadow_at(w: World, i: int, now: int) -> float:
    """Shadowing of a transmitter in standard deviations; instants never go back."""
    tx, transmitter = w.tx[i], w.transmitter[i]
    if tx.shadow_db > 0:
        while transmitter.shadow_step < now // tx.shadow_ns:
            transmitter.shadow_step += 1
            if transmitter.shadow_step == 0:
                transmitter.shadow = shadow_draw(tx, 0)
            else:
                transmitter.shadow = next_shadow(tx, transmitter.shadow_step, transmitter.shadow)
    return transmitter.shadow


def set_level(w: World, i: int, now: int) -> None:
    """How strong the flight of transmitter i is as it starts, and what it can bear."""
    tx, transmitter = w.tx[i], w.transmitter[i]
    transmitter.is_bad = 1 if is_bad(w, now) else 0
    transmitter.faint = transmitter.away
    transmitter.level_mw = tx.power_mw
    if w.rx.weighs == 0:
        return
    transmitter.gain = gain_at(tx, w.rx, now, shadow_at(w, i, now))
    transmitter.level_mw = tx.power_mw * transmitter.gain
    transmitter.quiet_rate = error_rate(w.rx, transmitter.level_mw, 0.0)
    frame = transmitter.fifo[0]
    transmitter.budget, transmitter.ack_budget = budgets(tx, frame.frame, frame.attempts)
    transmitter.errors, transmitter.accrued_ns = 0.0, now
    if transmitter.level_mw > w.rx.strongest_mw:
        transmitter.faint = 1


def is_faint(w: World, i: int) -> bool:
    """Whether a flight was out of range: noise alone would have spoilt it."""
    transmitter = w.transmitter[i]
    if transmitter.faint == 1 or w.rx.weighs == 0:
        return transmitter.faint == 1
    return transmitter.quiet_rate * w.tx[i].frame_ns > transmitter.budget


def note_signal(w: World, i: int, now: int) -> None:
    """The flight of transmitter i ends now, or is cut: what the receiver could hear is no noise."""
    if not is_faint(w, i):
        w.signal_ns = now


def set_heard(w: World, i: int, now: int) -> None:
    """The acknowledgement that starts now where transmitter i hears it; the path is its frame's."""
    heard, transmitter = w.heard[i], w.transmitter[i]
    heard.faint, heard.hit_ns = transmitter.away, FOREVER_NS
    if w.rx.weighs == 0:
        return
    heard.level_mw = w.rx.power_mw * transmitter.gain
    heard.budget = transmitter.ack_budget
    heard.quiet_rate = error_rate(w.rx, heard.level_mw, 0.0)
    heard.errors, heard.accrued_ns = 0.0, now
    if heard.level_mw > w.rx.strongest_mw:
        heard.faint = 1


def addresses(w: World, heard: Heard, i: int, now: int) -> bool:
    """Whether an acknowledgement's address gets through, as things stand at its start."""
    if heard.faint == 1 or w.rx.weighs == 0:
        return heard.faint == 0
    until_ns = now + w.tx[w.earner].ack_address_ns
    errors, _ = errors_until(
        w.rx,
        False,
        heard.level_mw,
        heard.quiet_rate,
        inside_mw(w, i),
        0.0,
        heard.budget,
        now,
        until_ns,
    )
    return errors < heard.budget


def is_heard(w: World, i: int) -> bool:
    """Whether nothing but chance took the acknowledgement on its way to transmitter i."""
    return w.heard[i].faint == 0 and w.heard[i].hit_ns == FOREVER_NS


def is_too_faint(w: World, i: int, now: int) -> bool:
    """Whether the acknowledgement was out of range for transmitter i."""
    heard = w.heard[i]
    if heard.faint == 1 or w.rx.weighs == 0:
        return heard.faint == 1
    return heard.quiet_rate * (now - w.ack_start_ns) > heard.budget


def is_deaf(w: World, start_ns: int, end_ns: int) -> bool:
    """Whether the receiver's program made it stop listening somewhere in [start, end)."""
    if is_deaf_in_boot(w.rx, w.running == 1, w.base_ns, start_ns):
        return True
    if w.rx.deafs == 0 or w.running == 0:
        return False
    return is_deaf_between(w.rx, w.base_ns, w.paused_ns, w.resumed_ns, start_ns, end_ns)


def cause(w: World, i: int, faint: bool, hit: bool, now: int) -> int:
    """What takes the flight of transmitter i by now, chance apart (rule C5)."""
    start_ns = w.transmitter[i].start_ns
    deaf = is_deaf(w, start_ns, now)
    return hearing(start_ns, w.on_since_ns, w.listening_ns, faint, deaf, hit)


def holds(w: World, j: int, i: int, now: int) -> bool:
    """Whether the receiver, if it heard flight j, is still held when i's address ends."""
    other, tx = w.transmitter[j], w.tx[j]
    if other.shut_out == 1 or other.end_ns <= now + w.tx[i].address_ns:
        return False
    return locks(other.start_ns, tx.address_ns, other.hit_ns, now)


def spoil(w: World, now: int) -> None:
    """What is on the air now meets what is too strong for it, where all are equally far."""
    if w.ack_on == 1 and w.jammed == 1:
        w.ack_hit = 1
    if w.rx.weighs == 1:
        return
    ratio = w.rx.cochannel_ratio
    for i in range(w.n):
        transmitter = w.transmitter[i]
        if transmitter.flying == 1 and not survives(
            transmitter.level_mw, level_beside(w, i), ratio
        ):
            transmitter.hit_ns = min(transmitter.hit_ns, now)
    if w.ack_on == 1 and not survives(w.rx.power_mw, power_beside(w, -1), ratio):
        w.ack_hit = 1


def jam(w: World, now: int) -> None:
    """A jammer begins: nothing that is on the air gets through."""
    w.jammed = 1
    for i in range(w.n):
        if w.transmitter[i].flying == 1:
            w.transmitter[i].hit_ns = min(w.transmitter[i].hit_ns, now)
    if w.ack_on == 1:
        w.ack_hit = 1


def begins(w: World, i: int, now: int) -> None:
    """The flight of transmitter i starts."""
    is_alone = w.ack_on == 0
    if w.jammed == 1 or w.transmitter[i].faint == 1:
        w.transmitter[i].hit_ns = now
    for j in range(w.n):
        if j != i and w.transmitter[j].flying == 1:
            is_alone = False
            if holds(w, j, i, now) and cause(w, j, False, False, now) == NEW:
                w.transmitter[i].shut_out = 1
    if not is_alone:
        spoil(w, now)
