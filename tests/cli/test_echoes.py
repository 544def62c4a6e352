"""Nothing that is typed, or that stands in a file, reaches a terminal as what could steer it."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer

import radiosim
from tests.cli.test_cautions import COMMANDS, TYPED, files_of, words_of
from tests.cli.typed import Typed, typed

STEERING = "\x1b]0;owned\x07\x1b[2J\x9b31m\u202e\x7f\r"
SAID = (STEERING, f"a={STEERING}", f"drive:{STEERING}=1", f"drive {STEERING}", f"1,{STEERING}")
"""Forms that options ask for, so that it is found out late too."""
LONG = ("--cluster",)
"""Options whose value is asked on the network before it is refused."""
HOME = Path(radiosim.__file__).parent


def options_of_text() -> Iterator[object]:
    for name, command in COMMANDS.items():
        for one in command.params:
            if isinstance(one, typer.core.TyperOption) and not one.is_flag:
                # With a file of any name a command does all its work.
                marks = pytest.mark.slow if one.opts[0] in files_of(command) else ()
                yield pytest.param(name, one.opts[0], marks=marks)


def steers(done: Typed) -> list[str]:
    """Letters of the screen that are none."""
    return [
        letter
        for letter in done.out + done.err
        if not (letter.isprintable() or letter in "\n\N{NO-BREAK SPACE}")
    ]


@pytest.mark.parametrize(("command", "option"), tuple(options_of_text()))
def test_no_option_echoes_what_could_steer_a_terminal(
    command: str, option: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    if option in LONG:
        pytest.skip("asked on the network")
    words = words_of(command, tmp_path)
    # All forms are names of files.
    for said in SAID[:1] if option in files_of(COMMANDS[command]) else SAID:
        done = typed(*words, option, said)

        assert not steers(done), said


@pytest.mark.parametrize("command", tuple(TYPED))
def test_no_argument_is_echoed_as_it_is(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for said in SAID:
        assert not steers(typed(*command.split(), said)), said
        assert not steers(typed(*words_of(command, tmp_path), said)), said


@pytest.mark.parametrize("words", [(STEERING,), (f"--{STEERING}",), ("run", f"--{STEERING}=1")])
def test_no_word_that_is_none_is_echoed_as_it_is(words: tuple[str, ...]) -> None:
    done = typed(*words)

    assert done.code == 2
    assert not steers(done)


def test_answers_that_are_typed_are_shown_as_they_are_escaped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("builtins.input", lambda: STEERING)
    done = typed("new", tmp_path / "my.toml")

    assert done.code == 2
    assert "\\x1b" in done.err
    assert not steers(done)


@pytest.mark.parametrize("path", sorted((HOME / "cli").glob("*.py")), ids=lambda path: path.name)
def test_commands_print_through_one_place(path: Path) -> None:
    """A bare `print` prints constants alone; what is written whole is what a file would hold."""
    printed = [
        node
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "print"
        for argument in node.args
        if not isinstance(argument, ast.Constant) and "printable" not in ast.unparse(argument)
    ]

    assert path.name == "console.py" or not printed
