import re
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from radiosim.cli.app import app
from radiosim.scenario import load, parse
from tests.cli.typed import Typed, typed


def piped(text: str, *arguments: str | Path) -> Typed:
    result = CliRunner().invoke(app, ["new", *map(str, arguments)], input=text)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return Typed(code=result.exit_code, out=result.stdout, err=result.stderr)


def test_a_scenario_is_written_without_questions(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    done = typed("new", path, "--yes", "--rate", "250k")

    assert (done.code, done.err) == (0, "")
    assert done.out.startswith(f"wrote {path}: ")
    assert "Caution: wheels off the ground" in done.out
    assert f"Next: radiosim run {path}" in done.out
    assert load(path).radio.profile == "gfsk-250k"
    assert typed("validate", path).code == 0


def test_answers_from_a_pipe_write_a_scenario(tmp_path: Path) -> None:
    path = tmp_path / "boat.toml"
    done = piped("boat\nhand: throttle, rudder\n50\nno\n2M\nall 2\n\n1000\n300\n2\n", path)

    given = load(path)
    assert done.code == 0
    assert "10 of 10  How many seconds" in done.err
    assert "[throttle motor, rudder servo]" in done.err
    assert given.transmitter["hand"].period_ms == 50
    assert given.failsafe["hand"].timeout_ms == 300
    assert given.transmitter["hand"].boot_s == given.receiver.boot_s == 2
    assert given.receiver.read == "all"


def test_a_scenario_on_standard_output_stands_alone() -> None:
    done = piped("\n" * 10, "-")

    assert done.out.startswith("# A car, driven by drive and head")
    assert parse(done.out).title == "Car"


def test_questions_that_options_answer_are_not_asked(tmp_path: Path) -> None:
    done = piped("\n" * 8, tmp_path / "x.toml", "--drives", "rover", "--rate", "1M")

    assert done.code == 0
    numbers = re.findall(r"^(\d+) of 8 ", done.err, re.MULTILINE)
    assert numbers == [str(at) for at in range(1, 9)]


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("car\n", "answer 2, transmitters: must be given, got the end of the input (--yes"),
        ("tank\n", "answer 1, drives: must be one of rover, car, boat, aircraft, machine"),
    ],
)
def test_a_pipe_that_ends_or_errs_leaves_nothing(tmp_path: Path, text: str, problem: str) -> None:
    done = piped(text, tmp_path / "x.toml")

    assert (done.code, done.out) == (2, "")
    assert problem in done.err
    assert not list(tmp_path.iterdir())


def test_what_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    command = [sys.executable, "-X", "utf8", "-m", "radiosim", "new", str(path)]
    done = subprocess.run(command, input=b"\xff\xfe\n", capture_output=True, check=False)

    assert done.returncode == 2
    assert b"Traceback" not in done.stderr
    assert not path.exists()


def test_a_wrong_option_is_refused(tmp_path: Path) -> None:
    done = typed("new", tmp_path / "x.toml", "--yes", "--reads", "two")

    assert done.code == 2
    assert done.err.startswith("--reads: must be one of one, all, newest, interrupt, got 'two'")


def test_a_file_is_overwritten_by_force_alone(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text("mine", encoding="utf-8")

    refused = typed("new", path, "--yes")
    assert refused.code == 2
    assert "must be a new file, got one that exists" in refused.err
    assert path.read_text(encoding="utf-8") == "mine"

    assert typed("new", path, "--yes", "--force").code == 0
    assert load(path).title == "Car"


def test_a_folder_that_is_not_there_is_refused_before_any_question(tmp_path: Path) -> None:
    done = piped("", tmp_path / "none" / "x.toml")

    assert done.code == 2
    assert "must be in a folder that exists" in done.err
    assert "1 of 10" not in done.err
