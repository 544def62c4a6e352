"""What README.md shows is what the commands print; after a meant change make it again."""

import re

import pytest

from tests.cli.typed import typed
from tests.readme.make import README, shown_again

TEXT = README.read_text(encoding="utf-8")


@pytest.mark.slow
def test_every_output_shown_is_the_real_one() -> None:
    assert TEXT.count("```console\n") >= 3
    assert shown_again(TEXT) == TEXT


def test_every_command_named_is_one() -> None:
    commands = set(re.findall(r"(?:\.venv/bin/|`)radiosim ([a-z]+)", TEXT))

    assert commands
    for command in commands:
        assert typed(command, "--help").code == 0


def test_every_command_is_named() -> None:
    listed = re.findall(r"^  ([a-z]+)  ", typed("--help").out, re.MULTILINE)

    assert len(listed) >= 6
    for command in listed:
        assert f"radiosim {command}" in TEXT
