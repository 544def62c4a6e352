"""The error tree and its texts."""

import pickle

import pytest

from radiosim.errors import (
    LONGEST_LINE,
    MOST_PROBLEMS,
    LayoutError,
    OptionError,
    Problem,
    RadiosimError,
    ScenarioError,
    TraceError,
    printable,
)


@pytest.mark.parametrize("kind", [ScenarioError, LayoutError, TraceError])
def test_one_except_catches_all(kind: type[Exception]) -> None:
    assert issubclass(kind, RadiosimError)


def test_a_problem_says_where_what_and_why() -> None:
    problem = Problem(file="scenario.toml", line=31, path="a.b", text="must be > 0, got -5")

    assert str(problem) == "scenario.toml:31: a.b: must be > 0, got -5"


def test_a_problem_leaves_out_what_it_does_not_know() -> None:
    assert str(Problem(path="", text="is empty")) == "is empty"
    assert str(Problem(file="--set", path="a", text="is no key")) == "--set: a: is no key"


def test_problems_stand_in_order_of_lines_those_without_last() -> None:
    problems = tuple(Problem(file="s", path=f"p{line}", text="x", line=line) for line in (7, 0, 3))

    assert str(ScenarioError(problems)) == "s:3: p3: x\ns:7: p7: x\ns: p0: x"


@pytest.mark.parametrize("odd", ["\x1b[2J", "\n", "\u202e", "\x00", "\ud800"])
def test_no_problem_steers_a_terminal_or_takes_two_lines(odd: str) -> None:
    shown = odd.encode("unicode_escape").decode()

    assert str(Problem(path="a", text=f"got {odd}")) == f"a: got {shown}"
    assert str(LayoutError((("a", f"got {odd}"),))) == f"a: got {shown}"


@pytest.mark.parametrize("letter", ["p", "\u202e"])
def test_a_problem_of_any_length_takes_one_bounded_line(letter: str) -> None:
    text = str(Problem(file="s", path=letter * 5_000, text="must be x", line=1))

    assert len(text) == LONGEST_LINE
    assert text.endswith("…")


def test_of_very_many_problems_the_first_are_shown_and_the_others_counted() -> None:
    problems = tuple(Problem(file="s", path="a", text="x", line=k) for k in range(1, 1_501))

    lines = str(ScenarioError(problems)).splitlines()

    assert lines[MOST_PROBLEMS - 1 :] == [f"s:{MOST_PROBLEMS}: a: x", "s: and 1,400 more problems"]


def test_a_layout_error_lists_its_problems() -> None:
    error = LayoutError((("layout.a", "must be x, got y"), ("layout.b", "must be z")))

    assert str(error) == "layout.a: must be x, got y\nlayout.b: must be z"


@pytest.mark.parametrize(
    "error",
    [
        ScenarioError((Problem(path="a", text="b", line=1),)),
        LayoutError((("a", "b"),)),
        TraceError("trace.npz: is not a saved trace"),
    ],
)
def test_errors_cross_from_one_process_to_another(error: RadiosimError) -> None:
    again = pickle.loads(pickle.dumps(error))

    assert type(again) is type(error)
    assert str(again) == str(error)


def test_what_could_steer_a_terminal_stands_as_it_is_escaped() -> None:
    assert printable("a\x1b[2Jb\n\x9b\u202e\N{NO-BREAK SPACE}ü") == (
        "a\\x1b[2Jb\\n\\x9b\\u202e\N{NO-BREAK SPACE}ü"
    )
    assert str(OptionError("--skip: got \x1b[2J\nlost")) == "--skip: got \\x1b[2J\\nlost"
