"""Who is on the air, and what spoils what (rules C1, C2 and C4)."""

from radiosim.engine.fast.compiled import part
from radiosim.engine.fast.levels import level_beside, power_beside
from radiosim.engine.fast.records import World
from radiosim.engine.rules.reception import hearing, is_deaf_between, locks
from radiosim.radio.interference import survives
from radiosim.trace import NEW


@part
def is_deaf(w: World, start_ns: int, end_ns: int) -> bool:
    """Whether the receiver's program made it stop listening somewhere in [start, end)."""
    if w.rx.deafs == 0 or w.running == 0:
        return False
    return is_deaf_between(w.rx, w.base_ns, w.paused_ns, w.resumed_ns, start_ns, end_ns)


@part
def cause(w: World, i: int, faint: bool, hit: bool, now: int) -> int:
    """What takes the flight of transmitter i by now, chance apart (rule C5)."""
    start_ns = w.transmitter[i].start_ns
    deaf = is_deaf(w, start_ns, now)
    return hearing(start_ns, w.on_since_ns, w.listening_ns, faint, deaf, hit)


@part
def holds(w: World, j: int, i: int, now: int) -> bool:
    """Whether the receiver, if it heard flight j, is still held when i's address ends."""
    other, tx = w.transmitter[j], w.tx[j]
    if other.shut_out == 1 or other.end_ns <= now + w.tx[i].address_ns:
        return False
    return locks(other.start_ns, tx.address_ns, other.hit_ns, now)


@part
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


@part
def jam(w: World, now: int) -> None:
    """A jammer begins: nothing that is on the air gets through."""
    w.jammed = 1
    for i in range(w.n):
        if w.transmitter[i].flying == 1:
            w.transmitter[i].hit_ns = min(w.transmitter[i].hit_ns, now)
    if w.ack_on == 1:
        w.ack_hit = 1


@part
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
