"""How strong a transmitter is at the other end (rules C1 and C3)."""

import math

from radiosim.chance import BURST, SHADOW, WORD, fraction_53, philox4x32
from radiosim.engine.plan_rows import Rx, Tx
from radiosim.marks import rule
from radiosim.radio.path_loss import path_loss_db
from radiosim.radio.waves import cosine_of, sine_of, turned

_DB = 0.23025850929940458
"""ln 10 / 10."""
_TO_ONE = 1.0 / 9007199254740992.0
"""2⁻⁵³."""


@rule
def distance_at(tx: Tx, now: int) -> float:
    """Distance at an instant, on straight lines between the points of a track."""
    low, high = 0, tx.points - 1
    if now <= tx.track[low].at_ns:
        return tx.track[low].distance_m
    if now >= tx.track[high].at_ns:
        return tx.track[high].distance_m
    while high - low > 1:
        middle = (low + high) // 2
        if tx.track[middle].at_ns <= now:
            low = middle
        else:
            high = middle
    before, after = tx.track[low], tx.track[high]
    share = (now - before.at_ns) / (after.at_ns - before.at_ns)
    return before.distance_m + share * (after.distance_m - before.distance_m)


@rule
def path_gain_db(tx: Tx, now: int) -> float:
    """Gain of the path at an instant, antennas included, before shadowing and fading."""
    if tx.points == 0:
        return tx.fixed_db
    return tx.gain_db - path_loss_db(
        tx.path, distance_at(tx, now), tx.frequency_mhz, tx.height_m, tx.beyond_m, tx.exponent
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
def gain_at(tx: Tx, now: int, shadow: float) -> float:
    """Share of a transmitter's power that arrives; `shadow` in standard deviations."""
    return math.exp(_DB * (path_gain_db(tx, now) + tx.shadow_db * shadow)) * faded(tx, now)


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
