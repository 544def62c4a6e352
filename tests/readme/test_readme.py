"""What README.md shows is what the commands print; after a meant change make it again."""

import re
from pathlib import Path
from typing import Any

import pytest
from matplotlib import pyplot

from tests.cli.typed import typed
from tests.firmware.programs import needs_compiler
from tests.readme.make import README, shown_again

TEXT = README.read_text(encoding="utf-8")


@needs_compiler
@pytest.mark.slow
def test_every_output_shown_is_the_real_one() -> None:
    assert TEXT.count("```console\n") >= 3
    assert shown_again(TEXT) == TEXT


def test_every_command_named_is_one() -> None:
    commands = set(re.findall(r"(?:\.venv/bin/|`)radiosim ([a-z][a-z-]*)", TEXT))

    assert commands
    for command in commands:
        assert typed(command, "--help").code == 0


def test_every_command_is_named() -> None:
    listed = re.findall(r"^  ([a-z][a-z-]*)  ", typed("--help").out, re.MULTILINE)

    assert len(listed) >= 6
    for command in listed:
        assert f"radiosim {command}" in TEXT


@pytest.mark.slow
def test_the_code_for_python_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    blocks = re.findall(r"```python\n(.*?)```", TEXT, re.DOTALL)
    monkeypatch.chdir(tmp_path)
    pyplot.switch_backend("agg")
    names: dict[str, Any] = {}
    for block in blocks:
        exec(compile(block, "README.md", "exec"), names)

    said = capsys.readouterr().out
    assert len(blocks) >= 3
    assert names["after"].figures.stream["drive"].gap_ms.max < 1000
    assert f"{names['before'].findings[0].what} {names['before'].findings[0].set}" in said
    assert [len(axes.lines) > 0 for axes in names["figure"].axes] == [True, True]
    pyplot.close(names["figure"])
