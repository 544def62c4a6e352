"""Rules of levels: how strong signals and interferers are, and what that spoils (C1 to C3).

A frame of which every bit fails independently survives with exp(−Σ h), h the hazard of each bit.
Its draw is exponential, so it survives exactly while the sum stays below the draw: whatever
lowers the sum never spoils a frame that was good before.
"""

import math

from radiosim.chance import BURST, EMISSION, ERRORS, SHADOW, WORD, branched, fraction_53, philox4x32
from radiosim.engine.plan_rows import GRID, STEADY, Emitter, Rx, Tx
from radiosim.engine.rules.antennas import antenna_db, on_track
from radiosim.engine.rules.timing import grid_point, points_until
from radiosim.marks import rule
from radiosim.radio.bit_errors import hazard_per_bit
from radiosim.radio.propagation import cosine_of, path_loss_db, sine_of, turned

_DB = 0.23025850929940458
"""ln 10 / 10."""
_TO_ONE = 1.0 / 9007199254740992.0
"""2⁻⁵³."""


@rule
def path_gain_db(tx: Tx, now: int) -> float:
    """Gain of the path at an instant, antennas included, before patterns, shadowing and fading."""
    if tx.points == 0:
        return tx.fixed_db
    distance_m = on_track(tx.track, tx.points, now)
    return tx.gain_db - path_loss_db(
        tx.path, distance_m, tx.frequency_mhz, tx.height_m, tx.beyond_m, tx.exponent
    )


@rule
def faded(tx: Tx, now: int) -> float:
    """What fading makes of a level of 1 at an instant."""
    if tx.waves == 0:
        return 1.0
    real = imaginary = 0.0
    for k in range(tx.waves):
        wave = tx.wave[k]
        at = turned(wave.turns_64, wave.phase_64, now)
        cosine, sine = cosine_of(at), sine_of(at)
        real += wave.cosine * cosine - wave.sine * sine
        imaginary += wave.cosine * sine + wave.sine * cosine
    return real * real + imaginary * imaginary


@rule
def gain_at(tx: Tx, rx: Rx, now: int, shadow: float) -> float:
    """Share of a transmitter's power that arrives; `shadow` in standard deviations."""
    gain_db = path_gain_db(tx, now) + tx.shadow_db * shadow
    gain_db += antenna_db(tx.antenna, now) + antenna_db(rx.antenna, now)
    return math.exp(_DB * gain_db) * faded(tx, now)


@rule
def shadow_draw(tx: Tx, step: int) -> float:
    """A standard normal number, one a step (G. E. P. Box, M. E. Muller, 1958)."""
    a, b, c, _ = philox4x32(step & WORD, step >> 32, 0, SHADOW, tx.key_low, tx.key_high)
    return math.sqrt(-2.0 * math.log1p(-fraction_53(a, b) * _TO_ONE)) * cosine_of(c)


@rule
def next_shadow(tx: Tx, step: int, before: float) -> float:
    """The shadowing of a step from that of the step before: correlated, of the same spread."""
    fresh = math.sqrt(1.0 - tx.shadow_kept * tx.shadow_kept)
    return tx.shadow_kept * before + fresh * shadow_draw(tx, step)


@rule
def state_ns(rx: Rx, burst: int, is_bad: bool) -> int:
    """Length of one of the air's bursts: exponential, so that it has no memory."""
    a, b, _, _ = philox4x32(burst & WORD, burst >> 32, 0, BURST, rx.air_low, rx.air_high)
    mean_ns = rx.bad_ns if is_bad else rx.good_ns
    return 1 + int(-mean_ns * math.log1p(-fraction_53(a, b) * _TO_ONE))


@rule
def begins_bad(rx: Rx) -> bool:
    """Whether a start finds the air in a bad burst."""
    _, _, c, d = philox4x32(0, 0, 0, BURST, rx.air_low, rx.air_high)
    return fraction_53(c, d) * _TO_ONE * (rx.good_ns + rx.bad_ns) < rx.bad_ns


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


@rule
def budgets(tx: Tx, frame: int, attempt: int) -> tuple[float, float]:
    """What an attempt can bear, and what its acknowledgement can."""
    what = branched(ERRORS, tx.branch)
    a, b, c, d = philox4x32(frame & WORD, frame >> 32, attempt, what, tx.key_low, tx.key_high)
    return (
        -math.log1p(-fraction_53(a, b) * _TO_ONE),
        -math.log1p(-fraction_53(c, d) * _TO_ONE),
    )


@rule
def error_rate(rx: Rx, level_mw: float, beside_mw: float) -> float:
    """Hazard a nanosecond of a signal beside noise and whatever else is on the air."""
    return hazard_per_bit(level_mw / (rx.noise_mw + beside_mw)) * rx.bits_per_ns


@rule
def errors_until(
    rx: Rx,
    at_receiver: bool,
    level_mw: float,
    quiet_rate: float,
    inside_mw: float,
    errors: float,
    budget: float,
    since_ns: int,
    now: int,
) -> tuple[float, int]:
    """Errors of a signal by now, and the instant at which they used up its budget, if they do.

    `errors`: by `since_ns`; `quiet_rate`: with nothing beside; `inside_mw`: what the link's other
    transmitters amount to all the while.
    """
    spoilt_ns = NEVER_NS
    while since_ns < now:
        outside, until_ns = outside_mw(rx, at_receiver, since_ns, now)
        beside_mw = inside_mw + outside
        rate = quiet_rate if beside_mw == 0.0 else error_rate(rx, level_mw, beside_mw)
        more = errors + rate * (until_ns - since_ns)
        if errors < budget <= more:
            spoilt_ns = since_ns + int((budget - errors) / rate)
        errors, since_ns = more, until_ns
    return errors, spoilt_ns
