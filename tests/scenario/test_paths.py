import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.scenario.paths import Path, line_of, listed, nearest, path_of, path_text

_steps = st.one_of(st.text(min_size=1, max_size=8), st.integers(0, 99))


@given(st.text(min_size=1, max_size=60), st.lists(_steps, max_size=5))
def test_a_path_survives_being_written(first: str, rest: list[str | int]) -> None:
    path: Path = (first, *rest)

    assert path_of(path_text(path)) == path


def test_a_key_of_more_than_sixty_letters_is_shown_by_its_first() -> None:
    assert path_text(("a" * 61,)) == "a" * 60 + "…"


@pytest.mark.parametrize("text", ["", ".", "a.", ".a", "a..b", "a[", "a[x]", "a b", "a[1]b", '"a'])
def test_what_is_no_path_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r".*"):
        path_of(text)


def test_a_missing_key_has_the_line_of_the_table_around_it() -> None:
    lines: dict[Path, int] = {("failsafe",): 3, ("failsafe", "drive"): 4}

    assert line_of(("failsafe", "drive", "timeout_ms"), lines) == 4
    assert line_of(("radio",), lines) == 0


def test_a_hint_is_given_only_where_something_is_near() -> None:
    assert nearest("perid_ms", ("period_ms", "pause_ms")) == ", did you mean 'period_ms'?"
    assert nearest("x", ("period_ms", "pause_ms")) == ""


def test_a_long_list_of_known_words_is_cut() -> None:
    assert listed([f"f{n}" for n in range(10)]) == "f0, f1, f2, f3, f4, f5, f6, f7, and 2 more"
    assert listed(()) == "there is none"
