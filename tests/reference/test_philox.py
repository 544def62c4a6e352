"""The counter-based generator against published acknowledgements and another implementation.

Source: J. K. Salmon, M. A. Moraes, R. O. Dror, D. E. Shaw, "Parallel random numbers: as easy as
1, 2, 3", SC 2011. Known acknowledgements: those published with the authors' own implementation,
status M (from memory). Second opinion: the Philox of the library `randomgen` (number 4, width 32).
Both are compared bit by bit.

The draws are fixed, so the uniformity checks pass or fail for good; were the keys drawn afresh,
each would fail with a chance of 1e-6.
"""

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from radiosim.chance import (
    LOSS,
    ONE_53,
    PHASE,
    WORD,
    draw_below,
    fraction_53,
    key_of,
    philox4x32,
    threshold_53,
)
from tests.reference.outside import (
    CHANCE_OF_FAILURE,
    MEMORY,
    SECOND,
    check,
    outside,
)
from tests.reference.sources import LIBRARY, PEARSON, PHILOX

ACKNOWLEDGEMENTS = {
    "zeros": ((0, 0, 0, 0), (0, 0), (0x6627E8D5, 0xE169C58D, 0xBC57AC4C, 0x9B00DBD8)),
    "ones": (
        (WORD, WORD, WORD, WORD),
        (WORD, WORD),
        (0x408F276D, 0x41C83B0E, 0xA20BC7C6, 0x6D5451FD),
    ),
    "pi": (
        (0x243F6A88, 0x85A308D3, 0x13198A2E, 0x03707344),
        (0xA4093822, 0x299F31D0),
        (0xD16CFE09, 0x94FDCCEB, 0x5001E420, 0x24126EA1),
    ),
}
Words = npt.NDArray[np.int64]


@outside("known acknowledgements", source=PHILOX.key, status=MEMORY)
@pytest.mark.parametrize("name", ACKNOWLEDGEMENTS)
def test_known_acknowledgements_come_out(name: str) -> None:
    counter, key, acknowledgement = ACKNOWLEDGEMENTS[name]

    words = philox4x32(*counter, *key)

    check.same(" ".join(f"{w:08x}" for w in words), " ".join(f"{w:08x}" for w in acknowledgement))


@outside("words of random counters and keys", source=LIBRARY.at("randomgen"), status=SECOND)
@given(counter=st.integers(0, 2**128 - 1), key=st.integers(0, 2**64 - 1))
def test_another_library_gives_the_same_words(counter: int, key: int) -> None:
    randomgen = pytest.importorskip("randomgen")
    # That library steps its counter before it draws.
    other = randomgen.Philox(counter=(counter - 1) % 2**128, key=key, number=4, width=32)
    words = [counter >> shift & WORD for shift in (0, 32, 64, 96)]

    ours = philox4x32(*words, key & WORD, key >> 32)

    check.agree(ours, tuple(int(word) for word in other.random_raw(4)))


def check_even(cells: Words, count: int) -> None:
    """Pearson's chi-square test of equal shares; its statistic over its degrees of freedom."""
    seen = np.bincount(cells, minlength=count)
    expected = len(cells) / count
    statistic = float(((seen - expected) ** 2 / expected).sum())
    limit = float(stats.chi2.isf(CHANCE_OF_FAILURE, count - 1))
    check.between(statistic / (count - 1), 0, limit / (count - 1), expected=1)


def draws(axis: str, count: int) -> tuple[Words, Words]:
    """The two numbers of `count` attempts: one counter word or the key's start number runs."""
    pairs = []
    for i in range(count):
        key = key_of(1, i if axis == "start" else 0, "unit", "drive")
        frame, attempt = (i if axis == "frame" else 7), (i if axis == "attempt" else 1)
        a, b, c, d = philox4x32(frame, 0, attempt, LOSS, key.low, key.high)
        pairs.append((fraction_53(a, b), fraction_53(c, d)))
    first, second = np.array(pairs, np.int64).T
    return first, second


def cells_of(fractions: Words, count: int) -> Words:
    return fractions // (ONE_53 // count)


@outside(
    "evenness of draws and of pairs of them, chi square over its degrees of freedom",
    source=PEARSON.key,
    status=MEMORY,
    chance=CHANCE_OF_FAILURE,
)
@pytest.mark.parametrize("axis", ["frame", "attempt", "start"])
def test_draws_are_even_and_pairs_are_independent(axis: str) -> None:
    first, second = draws(axis, 20_000)
    follows = 16 * cells_of(first[:-1], 16) + cells_of(first[1:], 16)

    check_even(cells_of(first, 128), 128)
    check_even(cells_of(second, 128), 128)
    check_even(16 * cells_of(first, 16) + cells_of(second, 16), 256)
    # Pairs that share a member are not independent: every second one.
    check_even(follows[::2], 256)


@outside(
    "evenness of drawn phases over starts, the same",
    source=PEARSON.key,
    status=MEMORY,
    chance=CHANCE_OF_FAILURE,
)
def test_drawn_phases_are_even_over_starts() -> None:
    period_ns = 20_000_000
    phases = [
        draw_below(key_of(1, start, "unit", "drive"), PHASE, period_ns) for start in range(20_000)
    ]

    assert min(phases) >= 0
    assert max(phases) < period_ns
    check_even(np.array(phases) // (period_ns // 128), 128)


@outside(
    "share of draws below a threshold",
    source=PEARSON.key,
    status=MEMORY,
    chance=CHANCE_OF_FAILURE,
)
@pytest.mark.parametrize("probability", [0.02, 0.5, 0.9])
def test_a_share_of_draws_below_a_threshold_is_its_probability(probability: float) -> None:
    for fractions in draws("frame", 20_000):
        hits = int((fractions < threshold_53(probability)).sum())
        check.share(hits, len(fractions), probability)
