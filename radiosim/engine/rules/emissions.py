"""When something from outside the link sends (rule C1): a pure function of the instant."""

from radiosim.chance import EMISSION, WORD, philox4x32
from radiosim.engine.plan_rows import GRID, STEADY, Emitter, Rx
from radiosim.engine.rules.grid import grid_point, points_until
from radiosim.marks import rule

NEVER_NS = 1 << 62
MOST_BURSTS = 40
"""Bursts of a cell that has one on average: more come less than once in 10⁴⁰."""


@rule
def word_of(a: int, b: int, c: int, d: int, index: int) -> int:
    """One of four words."""
    if index == 0:
        return a
    if index == 1:
        return b
    return c if index == 2 else d


@rule
def bursts_around(emitter: Emitter, cell: int, now: int) -> tuple[int, int]:
    """The last burst of a cell that begins by now, −1 if none does, and the first that is later.

    The number in each cell is Poisson's and their places are uniform, independent from cell to
    cell: together a Poisson process whose every part can be had without the parts before it.
    """
    low, high = cell & WORD, cell >> 32
    a, b, c, d = philox4x32(low, high, 0, EMISSION, emitter.key_low, emitter.key_high)
    share, count = a / 4294967296.0, 0
    chance = total = emitter.none
    while share >= total and count < MOST_BURSTS:
        count += 1
        chance *= emitter.mean / count
        total += chance
    last_ns, first_ns = -1, NEVER_NS
    for j in range(1, count + 1):
        if j & 3 == 0:
            a, b, c, d = philox4x32(low, high, j, EMISSION, emitter.key_low, emitter.key_high)
        word = word_of(a, b, c, d, j & 3)
        at_ns = cell * emitter.every_ns + ((word * emitter.every_ns) >> 32)
        if at_ns > now:
            first_ns = min(first_ns, at_ns)
        else:
            last_ns = max(last_ns, at_ns)
    return last_ns, first_ns


@rule
def bursts(emitter: Emitter, now: int, until_ns: int) -> tuple[bool, int]:
    """`emits` of an emitter whose bursts come at random."""
    here = now // emitter.every_ns
    first_ns = NEVER_NS
    for cell in range(max(0, (now - emitter.burst_ns) // emitter.every_ns), here + 1):
        last_ns, first_ns = bursts_around(emitter, cell, now)
        if last_ns >= 0 and last_ns + emitter.burst_ns > now:
            return True, min(until_ns, last_ns + emitter.burst_ns)
    cell = here + 1
    while first_ns == NEVER_NS and cell * emitter.every_ns < until_ns:
        _, first_ns = bursts_around(emitter, cell, now)
        cell += 1
    return False, min(until_ns, first_ns)


@rule
def spans(emitter: Emitter, now: int, until_ns: int) -> tuple[bool, int]:
    """`emits` of an emitter that keeps a grid."""
    points = points_until(now - emitter.offset_ns, emitter.every_ns, emitter.ppb)
    if points > 0:
        began_ns = emitter.offset_ns + grid_point(points - 1, emitter.every_ns, emitter.ppb)
        if now < began_ns + emitter.burst_ns:
            return True, min(until_ns, began_ns + emitter.burst_ns)
    next_ns = emitter.offset_ns + grid_point(points, emitter.every_ns, emitter.ppb)
    return False, min(until_ns, next_ns)


@rule
def emits(emitter: Emitter, now: int, until_ns: int) -> tuple[bool, int]:
    """Whether it sends at an instant, and until when that surely stays so, at most `until_ns`."""
    if now < emitter.from_ns:
        return False, min(until_ns, emitter.from_ns)
    if now >= emitter.until_ns:
        return False, until_ns
    until_ns = min(until_ns, emitter.until_ns)
    if emitter.kind == STEADY:
        return True, until_ns
    if emitter.kind == GRID:
        return spans(emitter, now, until_ns)
    return bursts(emitter, now, until_ns)


@rule
def outside_mw(rx: Rx, at_receiver: bool, now: int, until_ns: int) -> tuple[float, int]:
    """Level of everything from outside at one end, and until when it stays so, at most `until_ns`.

    Summed in file order, so that every engine rounds alike.
    """
    level_mw = 0.0
    for k in range(rx.emitters):
        emitter = rx.emitter[k]
        sends, until_ns = emits(emitter, now, until_ns)
        if sends:
            level_mw += emitter.at_receiver_mw if at_receiver else emitter.at_transmitters_mw
    return level_mw, until_ns
