""""""

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.scenario.key_paths import (
    Path,
    line_index,
    line_of,
    listed,
    nearest,
    path_of,
    path_text,
)
from tests.examples import examples
from tests.scenario.scenarios import FULL, SMALLEST


def paths_of(value: Any, path: Path = ()) -> set[Path]:
    """Every key path of a decoded document."""
    items: Any = ()
    if isinstance(value, dict):
        items = value.items()
    elif isinstance(value, list):
        items = enumerate(value)
    found = {path} if path else set()
    for key, inner in items:
        found |= paths_of(inner, (*path, key))
    return found


TRICKY = '''# a comment with a = "quote
"quoted key" = 1
'literal.key'."b\\u0063" = 2
text = """
[not.a.table]
x = "1"
""""
literal = \'\'\'
# no comment
\'\'\'
date = 1979-05-27 07:32:00 # after
list = [
  1, # one ]
  [2, 3],
  { a = "}", b = [4] },

  "]",
]
[[fault]]
at_s = 1
[[fault]]   # second
at_s = 2
inner = { x = { y = 1 } }
[fault.deep]
z = 1
[[fault.more]]
w = 1
[ spaced . "table" ]
k.l.m = true
'''


@pytest.mark.parametrize("text", [SMALLEST, FULL, TRICKY], ids=["smallest", "full", "tricky"])
def test_every_key_of_a_text_has_a_line(text: str) -> None:
    assert set(line_index(text)) == paths_of(tomllib.loads(text))


@pytest.mark.parametrize(
    ("path", "needle"),
    [
        (("text",), 'text = """'),
        (("date",), "date ="),
        (("list", 0), "  1, # one"),
        (("list", 2, "b", 0), "  { a"),
        (("list", 3), '  "]"'),
        (("fault", 1), "[[fault]]   # second"),
        (("fault", 1, "inner", "x", "y"), "inner ="),
        (("fault", 1, "more", 0, "w"), "w = 1"),
        (("spaced", "table", "k", "l", "m"), "k.l.m"),
        (("literal.key", "bc"), "'literal.key'"),
    ],
)
def test_a_key_has_the_line_on_which_it_stands(path: Path, needle: str) -> None:
    lines = TRICKY.split("\n")

    assert lines[line_index(TRICKY)[path] - 1].startswith(needle)


def test_line_ends_of_another_system_count_the_same() -> None:
    assert line_index("a = 1\r\n\r\nb = 2\r\n") == {("a",): 1, ("b",): 3}


_values = st.recursive(
    st.one_of(
        st.integers(-9, 9).map(str),
        st.sampled_from(['"a # b"', "'c ] d'", '"""e\nf"""', "'''g\n\"h'''", "true", "1e3"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda items: "[\n" + ",\n".join(items) + "]"),
        st.lists(inner, max_size=3).map(
            lambda items: "{" + ", ".join(f"k{n} = {item}" for n, item in enumerate(items)) + "}"
        ),
    ),
    max_leaves=8,
)


@given(st.lists(st.tuples(st.sampled_from(["", "[t]\n", "[[u]]\n", "[u.v]\n"]), _values)))
@examples(60)
def test_any_text_that_parses_is_indexed_whole(parts: list[tuple[str, str]]) -> None:
    text = "".join(f"{head}# note\nkey{n} = {value}\n" for n, (head, value) in enumerate(parts))
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return

    assert set(line_index(text)) == paths_of(document)


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
