"""Make the outputs shown in README.md again: `python -m tests.readme.make`."""

import os
import re
import shlex
import tempfile
from collections.abc import Callable
from pathlib import Path

from tests.cli.typed import typed

README = Path(__file__).parents[2] / "README.md"
_BLOCK = re.compile(r"(?<=```console\n).*?(?=```)", re.DOTALL)
_COMMAND = re.compile(
    r"\$ \.venv/bin/radiosim (?P<arguments>.*?)(?: \| (?P<end>head|tail) -(?P<lines>\d+))?"
)


def shown_again(text: str) -> str:
    """README text with every block of commands run anew, in one folder and in order."""
    with tempfile.TemporaryDirectory() as folder:
        before = Path.cwd()
        os.chdir(folder)
        try:
            return _BLOCK.sub(lambda block: _block(block[0]), text)
        finally:
            os.chdir(before)


def _block(text: str) -> str:
    commands = [line for line in text.splitlines() if line.startswith("$ ")]
    return "".join(f"{command}\n{_output(command)}" for command in commands)


def _output(command: str) -> str:
    """What a reader sees on standard output; notes about progress are left out."""
    parts = _COMMAND.fullmatch(command)
    assert parts, f"not a command that the README may show: {command}"
    done = typed(*shlex.split(parts["arguments"]))
    lines = done.out.splitlines(keepends=True)
    cut: dict[str | None, Callable[[int], list[str]]] = {
        "head": lambda count: lines[:count],
        "tail": lambda count: lines[-count:],
        None: lambda _: lines,
    }
    return "".join(cut[parts["end"]](int(parts["lines"] or 0)))


if __name__ == "__main__":
    README.write_text(shown_again(README.read_text(encoding="utf-8")), encoding="utf-8")
    print(README.name)
