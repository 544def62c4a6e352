import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.scenario.lines import line_index
from radiosim.scenario.paths import Path
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
