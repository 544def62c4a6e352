"""Rules of noise that passes for frames (rule D6): whether it is heard, and what it says."""

from radiosim.chance import NOISE, WORD, philox4x32
from radiosim.engine.plan_rows import PLAIN, Rx
from radiosim.marks import rule
from radiosim.trace import FIRST_NOISE, FULL

FLOAT_LIMIT = 1e30
"""Where a random float is cut off: an output is at the end of its travel long before."""


@rule
def is_quiet(since_ns: int, listening_ns: int, signal_ns: int) -> bool:
    """Whether a receiver has heard nothing but noise since an instant.

    `listening_ns`: since when it listens without a break; `signal_ns`: when the last signal that
    it could hear ended.
    """
    return listening_ns <= since_ns and signal_ns <= since_ns


@rule
def noise_is_acknowledged(rx: Rx, fate: int, acknowledge: int, asks: int) -> bool:
    """Whether the receiver acknowledges noise: its control field is as random as the rest (B2)."""
    if acknowledge == PLAIN or asks == 0:
        return False
    return fate != FULL or rx.acknowledge_when_full == 1


@rule
def power_of_two(exponent: int) -> float:
    """2 to a whole power, exactly."""
    size, factor = 1.0, 2.0 if exponent >= 0 else 0.5
    for _ in range(abs(exponent)):
        size *= factor
    return size


@rule
def noise_number(
    frame: int, bits: int, is_signed: int, float_bits: int, rest: float, low: int, high: int
) -> float:
    """Number on the wire of one field in a frame out of noise: all bit patterns alike.

    `low` and `high`: key of the field. What is no number is `rest`.
    """
    number = FIRST_NOISE - frame
    a, b, _, _ = philox4x32(number & WORD, number >> 32, 0, NOISE, low, high)
    if float_bits == 0:
        if bits <= 32:
            whole = float(a >> (32 - bits))
        else:
            whole = float(a) * power_of_two(bits - 32) + float(b >> (64 - bits))
        return whole - power_of_two(bits) if is_signed == 1 and a >> 31 == 1 else whole
    if float_bits == 32:
        exponent, most, fraction = (a >> 23) & 255, 255, (a & 8388607) / 8388608.0
    else:
        exponent, most = (a >> 20) & 2047, 2047
        fraction = ((a & 1048575) + b / 4294967296.0) / 1048576.0
    if exponent == most and fraction > 0:
        return rest
    middle = most // 2
    # Beyond the limit an exponent is cut off before it is raised: all is finite.
    power = min(exponent, middle + 120) - middle
    size = min((1.0 + fraction) * power_of_two(power), FLOAT_LIMIT) if exponent > 0 else 0.0
    return -size if a >> 31 == 1 else size
