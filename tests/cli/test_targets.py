"""No command writes over what it reads."""

import json
from pathlib import Path

import pytest

from tests.cli.typed import typed

SCENARIO = """
starts = 1
duration_s = 1
radio.profile = "gfsk-1M"
air.range = { track_file = "way.csv" }

[layout.drive]
header = "frames.h"
struct = "Drive"
abi = "avr"

[transmitter.drive]
period_ms = 20
layout = "drive"
signals.steer = { kind = "csv", file = "steer.csv", column = "steer" }
"""
FILES = {
    "scenario.toml": SCENARIO,
    "frames.h": '#include "types.h"\nstruct Drive { steer_t steer; };\n',
    "types.h": "typedef unsigned char steer_t;\n",
    "other.h": "struct Drive { signed char steer; };\n",
    "way.csv": "t_s,distance_m\n0,5\n9,50\n",
    "steer.csv": "t_s,steer\n0,1\n1,2\n",
}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name, text in FILES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(
    ("command", "said"),
    [
        ("run scenario.toml --json frames.h", "--json: must not be a file that the scenario reads"),
        ("run scenario.toml --page types.h", "--page: must not be a file that the scenario reads"),
        (
            "run scenario.toml --trace steer.csv",
            "--trace: must not be a file that the scenario reads",
        ),
        (
            "run scenario.toml --waveform way.csv",
            "--waveform: must not be a file that the scenario",
        ),
        ("run scenario.toml --csv .", "--csv: must be another folder than that of a file that the"),
        (
            "tune scenario.toml --emit frames.h",
            "--emit: must not be a file that the scenario reads",
        ),
        (
            "tune scenario.toml --resume way.csv",
            "--resume: must not be a file that the scenario reads",
        ),
        ("failsafe scenario.toml --junit types.h", "--junit: must not be a file that the scenario"),
        (
            "range scenario.toml --json frames.h",
            "--json: must not be a file that the scenario reads",
        ),
        (
            "channels scenario.toml --csv .",
            "--csv: must be another folder than that of a file that the",
        ),
        (
            "bench-test scenario.toml --page ./frames.h",
            "--page: must not be a file that the scenario reads",
        ),
        (
            "validate scenario.toml --json frames.h",
            "--json: must not be a file that the scenario reads",
        ),
        (
            "validate gone.toml scenario.toml --json scenario.toml",
            "--json: must not be the scenario itself",
        ),
        (
            "layout show scenario.toml:drive --svg frames.h",
            "--svg: must not be a file that the scenario",
        ),
        ("layout show frames.h:Drive --svg types.h", "--svg: must not be a file that the header"),
        ("layout show frames.h:Drive --json frames.h", "--json: must not be the header itself"),
        ("layout check frames.h:Drive@avr --json types.h", "--json: must not be a file that the"),
        (
            "layout check scenario.toml --json scenario.toml",
            "--json: must not be the scenario itself",
        ),
        ("layout emit frames.h:Drive --to c --out types.h", "--out: must not be a file that the"),
        ("layout emit scenario.toml --to c --out frames.h", "--out: must not be a file that the"),
        (
            "layout compare frames.h:Drive other.h:Drive --page types.h",
            "--page: must not be a file that the header reads",
        ),
        (
            "layout compare frames.h:Drive other.h:Drive --scenario scenario.toml --json steer.csv",
            "--json: must not be a file that the scenario reads",
        ),
    ],
)
def test_what_is_read_is_never_written(folder: Path, command: str, said: str) -> None:
    done = typed(*command.split())

    assert (done.code, done.out) == (2, "")
    assert done.err.startswith(said)
    assert {path.name: path.read_text(encoding="utf-8") for path in folder.iterdir()} == FILES


def test_what_an_override_names_is_read_too(folder: Path) -> None:
    done = typed(
        "channels", "scenario.toml", "--set", 'layout.drive.header="other.h"', "--json", "other.h"
    )

    assert done.err.startswith("--json: must not be a file that the scenario reads, got other.h")
    assert (folder / "other.h").read_text(encoding="utf-8") == FILES["other.h"]


@pytest.mark.usefixtures("folder")
def test_a_scenario_that_ships_is_not_written_over_by_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from radiosim.scenario import shipped

    monkeypatch.setattr(shipped, "_folder", lambda: tmp_path)
    done = typed("validate", "scenario", "--json", "scenario.toml")

    assert done.err.startswith("--json: must not be the scenario itself, got scenario.toml")


def test_a_file_beside_the_scenario_that_it_does_not_read_may_be_written(folder: Path) -> None:
    assert typed("validate", "scenario.toml", "--json", "other.h").code == 0
    assert json.loads((folder / "other.h").read_text(encoding="utf-8"))["scenarios"]


def test_tables_beside_other_tables_may_be_written(folder: Path) -> None:
    (folder / "mine").mkdir()
    (folder / "mine" / "steer.csv").write_text("mine", encoding="utf-8")

    assert typed("channels", "scenario.toml", "--csv", "mine").code == 0
    assert (folder / "mine" / "steer.csv").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    "command",
    [
        "run scenario.toml --page",
        "run scenario.toml --waveform",
        "run scenario.toml --trace",
        "run scenario.toml --csv",
        "tune scenario.toml --emit",
        "failsafe scenario.toml --junit",
        "layout show scenario.toml:drive --svg",
        "layout emit scenario.toml:drive --to c --out",
    ],
)
def test_a_dash_makes_no_file_of_that_name(folder: Path, command: str) -> None:
    done = typed(*command.split(), "-")

    option = command.rsplit(maxsplit=1)[-1]
    assert (done.code, done.out) == (2, "")
    assert done.err == (
        f"{option}: must be a name, got - (it is standard output for --json only)\n"
    )
    assert not (folder / "-").exists()
