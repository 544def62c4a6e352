"""Texts as lines, measured in the columns of a terminal."""

from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from radiosim.results import wrapping
from radiosim.results.wrapping import width_of, wrapped
from tests.examples import examples


def test_letters_that_no_table_is_asked_about_take_one_column_each() -> None:
    """Outside: the widths that the library of terminals has of Unicode's tables."""
    narrow = [letter for letter in map(chr, range(0x3000)) if wrapping._NARROW.fullmatch(letter)]

    assert len(narrow) > 500
    assert {letter for letter in narrow if cell_len(letter) != 1} == set()


@given(st.text(st.sampled_from("ab \u00a0·→語e\u0301"), max_size=30), st.integers(2, 12))
@examples(200)
def test_lines_fit_and_hold_every_letter(text: str, width: int) -> None:
    lines = wrapped(text, width)

    assert all(width_of(line) == cell_len(line) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == "".join(text.replace("\u00a0", " ").split())
