"""Whatever a command prints or writes carries the caution; commands and files are the app's own."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as Xml

import pytest
import typer

from radiosim.cli.app import app
from radiosim.live.server import LiveServer
from radiosim.safety import CAUTION
from radiosim.scenario.shipped import shipped_scenarios
from tests.cli.test_failsafe_command import OUTPUT, QUICK, SILENT
from tests.cli.test_range_command import FAR
from tests.cli.test_tune_command import SECOND, VARY
from tests.cli.typed import tiny, typed
from tests.firmware.programs import EXAMPLES, needs_compiler
from tests.report.reports import REPORTS
from tests.study.fit.samples import written_logs

SCENARIO, LAYOUT, INTO, LOG = "SCENARIO", "LAYOUT", "INTO", "LOG"
HOUSE = 'interferer.house = { kind = "bursts", channel_mhz = 2437 }\n'
LONE = ("--workers", "1")
TYPED: dict[str, tuple[str, ...]] = {
    "new": ("-", "--yes"),
    "run": (SCENARIO, "--start", "1"),
    "live": (SCENARIO,),
    "scenarios": (),
    "validate": (SCENARIO,),
    "glossary": ("gap",),
    "schema": (),
    "channels": (SCENARIO,),
    "failsafe": (SCENARIO, *QUICK, *SILENT),
    "tune": (SCENARIO, *VARY, *LONE),
    "bench-test": (SCENARIO, "--starts", "3", "--minutes", "0.1", *LONE),
    "range": (SCENARIO, "--points", "2", *LONE),
    "firmware": ("shared-timer", str(EXAMPLES / "car.c"), "--starts", "1", "--duration-s", "2"),
    "probe": (SCENARIO, "--to", INTO),
    "fit": (SCENARIO, LOG, *LONE),
    "layout show": (LAYOUT,),
    "layout check": (LAYOUT,),
    "layout compare": (LAYOUT, LAYOUT),
    "layout emit": (LAYOUT, "--to", "c"),
}
"""Command → what is typed after it."""
WITH = {"channels": HOUSE, "failsafe": OUTPUT, "tune": SECOND, "range": FAR, "bench-test": OUTPUT}
"""What the scenario has besides."""
NO_ROOM = {
    "--csv": "a table has columns and rows, and nothing else",
    "--parquet": "the same",
    "--trace": "rows for radiosim run, which has the caution",
    "--resume": "rows for the same command, which has the caution",
    "--svg": "a map of bytes, which moves nothing",
}
"""Files that carry no caution → why not."""


def commands() -> Iterator[tuple[str, Any]]:
    """Every command of the app with its full name."""

    def walk(command: Any, name: str) -> Iterator[tuple[str, Any]]:
        inner = getattr(command, "commands", None)
        if inner is None:
            yield name, command
        for word, sub in (inner or {}).items():
            yield from walk(sub, f"{name} {word}".strip())

    return walk(typer.main.get_command(app), "")


def files_of(command: Any) -> tuple[str, ...]:
    """Options that name what is written."""
    return tuple(
        parameter.opts[0]
        for parameter in command.params
        if str(parameter.metavar or "").startswith(("FILE", "FOLDER"))
        and parameter.opts[0].startswith("--")
    )


COMMANDS = dict(commands())


def words_of(command: str, folder: Path) -> list[str]:
    scenario = str(tiny(folder, WITH.get(command, "")))
    log = str(folder / "receiver.log")
    if LOG in TYPED[command]:
        written_logs(folder, seed=5)
    named = {
        SCENARIO: scenario,
        LAYOUT: f"{scenario}:plain_6",
        INTO: str(folder / "into"),
        LOG: log,
    }
    return [*command.split(), *(named.get(word, word) for word in TYPED[command])]


def plain(text: str) -> str:
    """A text without line ends, marks of comments, and what opens its first line of them."""
    return " ".join(text.replace("\n#", "\n").split())


def test_every_command_is_held_to_it() -> None:
    assert set(TYPED) == set(COMMANDS)


@pytest.mark.parametrize(
    "command",
    [
        pytest.param(
            name,
            marks=[needs_compiler] * (name == "firmware") + [pytest.mark.slow] * (name == "fit"),
        )
        for name in TYPED
    ],
)
def test_what_a_command_prints_and_writes_has_the_caution(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Its server goes on until somebody ends it.
    monkeypatch.setattr(LiveServer, "serve_forever", lambda *_, **__: None)
    targets = {
        option: tmp_path / f"out{option}.html"
        for option in files_of(COMMANDS[command])
        if option not in (*NO_ROOM, "--page")
    }
    if command == "firmware":
        # Of an .elf alone; it goes the way of the others' --write. A log is bytes, with no text.
        del targets["--write"], targets["--log"]
    if command == "fit":
        # Nothing is fitted where all holds; what it writes is looked at in tests/study/fit.
        del targets["--write"]
    if command == "layout emit" or "--to" in targets:
        targets = {}
    said = [word for option, path in targets.items() for word in (option, str(path))]
    done = typed(*words_of(command, tmp_path), *said)

    assert done.code in (0, 1), done.err
    assert CAUTION in plain(done.out)
    for option, path in targets.items():
        written = path / "link.h" if path.is_dir() else path
        assert CAUTION in plain(written.read_text(encoding="utf-8")), option
    if "--json" in targets:
        assert next(iter(json.loads(targets["--json"].read_text()).items())) == (
            "caution",
            CAUTION,
        )
    if "--junit" in targets:
        values = {found.attrib["value"] for found in Xml.parse(targets["--junit"]).iter("property")}
        assert values == {CAUTION}


def test_every_command_with_a_page_is_among_the_reports_whose_page_is_held_to_it() -> None:
    with_page = {name for name, command in COMMANDS.items() if "--page" in files_of(command)}

    assert with_page
    assert with_page <= set(REPORTS)


@pytest.mark.parametrize(
    "words",
    [
        ("layout", "emit", LAYOUT, "--to", "c"),
        ("layout", "emit", LAYOUT, "--to", "json"),
        ("layout", "emit", LAYOUT, "--to", "vectors"),
        ("glossary", "gap", "--json"),
        ("glossary", "--json"),
        ("glossary",),
        ("schema", "--results"),
    ],
)
def test_other_ways_to_ask_give_it_too(words: tuple[str, ...], tmp_path: Path) -> None:
    layout = f"{tiny(tmp_path)}:plain_6"
    done = typed(*(layout if word == LAYOUT else word for word in words))

    assert CAUTION in plain(done.out)


def test_every_schema_of_results_asks_for_it() -> None:
    for document in json.loads(typed("schema", "--results").out).values():
        described = document["$defs"][document["$ref"].rsplit("/", 1)[-1]]
        assert "caution" in described["required"]


@pytest.mark.parametrize("source", shipped_scenarios(), ids=lambda source: source.name)
def test_every_scenario_that_ships_has_it(source: Any, tmp_path: Path) -> None:
    assert CAUTION in plain(typed("scenarios", source.name).out)
    copied = tmp_path / "copied.toml"
    typed("scenarios", source.name, "--to", copied)
    assert CAUTION in plain(copied.read_text(encoding="utf-8"))


@pytest.mark.parametrize("drives", ["rover", "car", "boat", "aircraft", "machine"])
def test_every_new_scenario_has_it_and_so_does_the_screen(drives: str, tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    done = typed("new", path, "--yes", "--drives", drives)

    assert CAUTION in plain(done.out)
    assert CAUTION in plain(path.read_text(encoding="utf-8"))
