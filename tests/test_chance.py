"""Keyed draws, apart from the generator's known acknowledgements."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.chance import (
    JITTER,
    LOSS,
    ONE_53,
    draw_below,
    fraction_53,
    key_of,
    philox4x32,
    threshold_53,
    whole_below,
)

words = st.integers(0, 2**32 - 1)


@given(st.lists(words, min_size=6, max_size=6))
def test_words_stay_words(drawn: list[int]) -> None:
    assert all(0 <= word < 2**32 for word in philox4x32(*drawn))


@given(words, words)
def test_a_fraction_has_53_bits(high: int, low: int) -> None:
    assert 0 <= fraction_53(high, low) < ONE_53


def test_fractions_reach_both_ends() -> None:
    assert fraction_53(0, 0) == 0
    assert fraction_53(2**32 - 1, 2**32 - 1) == ONE_53 - 1


@given(words, st.integers(1, 2**31))
def test_a_whole_number_is_below_its_count(word: int, count: int) -> None:
    assert 0 <= whole_below(word, count) < count


@given(st.floats(0, 1))
def test_a_threshold_is_its_probability_to_the_last_bit(probability: float) -> None:
    assert threshold_53(probability) <= probability * 2**53 < threshold_53(probability) + 1


def test_certain_things_always_happen() -> None:
    assert threshold_53(1.0) == ONE_53
    assert threshold_53(0.0) == 0


@given(
    st.integers(0, 2**63 - 1), st.integers(0, 10**6), st.integers(1, 2**62), st.integers(0, 2**40)
)
def test_a_draw_depends_on_its_key_alone(seed: int, start: int, count: int, index: int) -> None:
    key = key_of(seed, start, "unit", "drive")

    assert 0 <= draw_below(key, LOSS, count, index) < count
    assert draw_below(key, LOSS, count, index) == draw_below(key, LOSS, count, index)


def test_seed_zero_is_a_seed() -> None:
    assert key_of(0, 0, "unit", "drive") != key_of(1, 0, "unit", "drive")


def test_every_part_of_a_key_counts() -> None:
    keys = {
        key_of(1, 2, "unit", "drive"),
        key_of(12, 2, "unit", "drive"),
        key_of(1, 22, "unit", "drive"),
        key_of(1, 2, "output", "drive"),
        key_of(1, 2, "unit", "head"),
    }

    assert len(keys) == 5


def test_what_draws_and_the_index_count() -> None:
    key = key_of(1, 0, "unit", "drive")

    drawn = {
        draw_below(key, what, 2**62, index) for what in (JITTER, LOSS) for index in (0, 1, 2**32)
    }

    assert len(drawn) == 6


def test_draws_are_even() -> None:
    key = key_of(7, 0, "unit", "drive")

    seen = Counter(draw_below(key, LOSS, 10, index) for index in range(10_000))

    # Four standard deviations (30) of a tenth of 10,000 draws.
    assert all(seen[value] == pytest.approx(1_000, abs=120) for value in range(10))
