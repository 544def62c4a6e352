"""Keyed draws (rule T3): a draw is a pure function of what is drawn, never of what came before.

Source of the generator: J. K. Salmon, M. A. Moraes, R. O. Dror, D. E. Shaw, "Parallel random
numbers: as easy as 1, 2, 3", SC 2011: Philox4x32-10.
"""

import functools
import hashlib
from typing import NamedTuple

from radiosim.marks import rule

WORD = 0xFFFFFFFF
ONE_53 = 1 << 53

# What draws: the last word of the counter, so that draws of one transmitter never share a block.
JITTER, LOSS, PHASE, CLOCK, WORK, DEAF, SENSOR, REFRESH, RESAMPLE = range(9)
ERRORS, SHADOW, BURST, EMISSION, WAVE, NOISE, DITHER = range(9, 16)
BRANCH_BITS = 28
"""Futures that a copied world can have: the bits above what draws."""


@rule
def philox4x32(c0: int, c1: int, c2: int, c3: int, k0: int, k1: int) -> tuple[int, int, int, int]:
    """Four 32-bit words that depend on a 128-bit counter and a 64-bit key alone."""
    for _ in range(10):
        # A product with the generator's multiplier, 2³² above this one, would pass 63 bits: that
        # part is added to the upper word.
        p0 = -0x2DAEE0AD * c0
        p1 = -0x326172A9 * c2
        high0, high1 = (p0 >> 32) + c0, (p1 >> 32) + c2
        c0 = high1 ^ c1 ^ k0
        c1 = p1 & 0xFFFFFFFF
        c2 = high0 ^ c3 ^ k1
        c3 = p0 & 0xFFFFFFFF
        k0 = (k0 + 0x9E3779B9) & 0xFFFFFFFF
        k1 = (k1 + 0xBB67AE85) & 0xFFFFFFFF
    return c0, c1, c2, c3


@rule
def branched(what: int, branch: int) -> int:
    """What draws, in one of the futures of a copied world; branch 0 is the one that ran."""
    return what | branch << 4


@rule
def fraction_53(high: int, low: int) -> int:
    """A whole number in 0…2⁵³−1 from two words: a probability is compared with it exactly."""
    return (high >> 5) * 67108864 + (low >> 6)


@rule
def whole_below(word: int, count: int) -> int:
    """A whole number in 0…count−1 from one word; `count` at most 2³¹."""
    return (word * count) >> 32


@rule
def whole_up_to(word: int, most: int) -> int:
    """A whole number in 0…`most` from one word; `most` below 2⁶²."""
    # In two parts, so that no product passes 63 bits.
    return ((most >> 31) * word >> 1) + whole_below(word, (most & 0x7FFFFFFF) + 1)


class Key(NamedTuple):
    """The 64-bit key of everything that one name draws in one start."""

    low: int
    high: int


MOST_DRAWS = 16_384
"""Draws that are remembered: points of a study take the same starts again and again."""


@functools.lru_cache(MOST_DRAWS)
def key_of(seed: int, start: int, what: str, name: str) -> Key:
    """Key of the draws of `name` (a unit, an output, a field) in one start of one seed."""
    text = f"{seed}/{start}/{what}/{name}".encode()
    digest = hashlib.blake2b(text, digest_size=8).digest()
    return Key(int.from_bytes(digest[:4], "little"), int.from_bytes(digest[4:], "little"))


@functools.lru_cache(MOST_DRAWS)
def draw_below(key: Key, what: int, count: int, index: int = 0) -> int:
    """A whole number in 0…count−1, once per start; `count` up to 2⁶²."""
    high, low, _, _ = philox4x32(index & WORD, index >> 32, 0, what, key.low, key.high)
    return ((high << 32 | low) * count) >> 64


def threshold_53(probability: float) -> int:
    """The whole number below which `fraction_53` must fall for a thing of this probability."""
    return int(probability * ONE_53)
