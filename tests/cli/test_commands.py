"""Arguments that no command can use."""

import os
import subprocess
import sys

import pytest

from tests.cli.typed import typed

LONG = "x" * 300


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (
            "run s.toml --starts abc",
            "--starts: must be a whole number >= 1 and <= 1000000, got 'abc'",
        ),
        (
            "run s.toml --starts 1.5",
            "--starts: must be a whole number >= 1 and <= 1000000, got '1.5'",
        ),
        (
            "range s.toml --duration-s x",
            "--duration-s: must be a number >= 0.001 and <= 100000000, got 'x'",
        ),
        ("tune s.toml --points 1", "--points: must be a whole number >= 2 and <= 100000, got 1"),
        (
            "failsafe s.toml --repeats 1e6",
            "--repeats: must be a whole number >= 1 and <= 100000, got '1e6'",
        ),
        (
            "bench-test s.toml --minutes 700",
            "--minutes: must be a number >= 0.05 and <= 600, got 700",
        ),
        ("channels s.toml --json", "--json: must have a value"),
        ("run s.toml --more=yes", "--more: must stand alone, got --more=yes"),
        ("run", "SCENARIO: must be given; root run --help tells more"),
        ("validate", "SCENARIO.toml...: must be given; root validate --help tells more"),
        ("layout emit a.h:A", "--to: must be given; root layout emit --help tells more"),
        ("run s.toml --strats 2", "--strats: must be an option of root run, did you mean"),
        ("run s.toml --nope", "--nope: must be an option of root run; root run --help lists them"),
        ("new --zzz", "--zzz: must be an option of root new; root new --help lists them"),
        ("--zzz", "--zzz: must be an option of root; root --help lists them"),
        ("rnu s.toml", "rnu: must be a command of root, did you mean 'run'?"),
        ("zzz", "zzz: must be a command of root; root --help lists them"),
        ("layout shwo a.h", "shwo: must be a command of root layout, did you mean 'show'?"),
        ("schema extra", "Got unexpected extra argument(s) (extra); root schema --help tells more"),
        ("scenarios --to mine.toml", "--to: must stand beside the NAME of a scenario, got none"),
        (
            f"run s.toml --starts {LONG}",
            "--starts: must be a whole number >= 1 and <= 1000000, got 'xxx",
        ),
        (f"run s.toml --{LONG}", "--xxx"),
        (LONG, "xxx"),
        ("run s.toml --\x1b[31m", r"--\x1b[31m: must be an option"),
    ],
)
def test_a_wrong_argument_is_refused_in_one_line(arguments: str, said: str) -> None:
    done = typed(*arguments.split(" "))

    assert (done.code, done.out) == (2, "")
    assert done.err.startswith(said)
    assert done.err.count("\n") == 1
    assert done.err.endswith("\n")
    assert len(done.err) < 160


def test_a_command_without_a_name_is_refused() -> None:
    assert typed("").err.startswith("'': must be a command")


@pytest.mark.parametrize(
    ("arguments", "option"),
    [
        (("run", "s.toml", "--page", ""), "--page"),
        (("run", "s.toml", "--csv="), "--csv"),
        (("scenarios", "smallest", "--to", ""), "--to"),
        (("layout", "emit", "a.h:A", "--out", "", "--to", "c"), "--out"),
    ],
)
def test_a_value_that_is_empty_is_refused(arguments: tuple[str, ...], option: str) -> None:
    done = typed(*arguments)

    assert (done.code, done.out) == (2, "")
    assert done.err == f"{option}: must be followed by a value, got an empty one\n"


@pytest.mark.parametrize("group", [(), ("layout",)])
def test_a_group_alone_shows_its_help(group: tuple[str, ...]) -> None:
    done = typed(*group)

    assert (done.code, done.out) == (2, "")
    assert done.err == typed(*group, "--help").out


def test_what_is_refused_looks_the_same_where_colour_is_wanted() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "radiosim", "run", "--stats"],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "FORCE_COLOR": "1", "TERM": "xterm-256color"},
    )

    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.endswith(" -m radiosim run, did you mean --starts?\n")
    assert done.stderr.startswith("--stats: must be an option of ")
