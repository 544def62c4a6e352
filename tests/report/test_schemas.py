"""What commands write as JSON is what their schemas say."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import typer

from radiosim.cli.app import app
from radiosim.report.schemas import RESULTS
from tests.cli.test_failsafe_command import OUTPUT, QUICK, SILENT
from tests.cli.test_range_command import FAR
from tests.cli.test_tune_command import SECOND, VARY
from tests.cli.typed import tiny, typed
from tests.firmware.programs import TAKES_ALL, needs_compiler
from tests.report.reports import REPORTS
from tests.study.fit.samples import written_logs

HOUSE = 'interferer.house = { kind = "bursts", channel_mhz = 2437 }\n'
FAULT = '[[fault]]\nat_s = 0.5\nkind = "power_off"\nunit = "drive"\nfor_s = 0.7\n'
ASKS = '[[requirement]]\nfigure = "stream.drive.gap_ms.max"\nat_most = 20\n'
LOST = (
    *("--set", "air.loss=0.6", "--set", "transmitter.drive.acknowledge=false"),
    *("--workers", "1"),
)
"""Of a link that trips often, an estimate is soon made."""
COMMANDS: dict[str, tuple[str, tuple[tuple[str, ...], ...]]] = {
    "run": (
        OUTPUT + FAULT + ASKS,
        (("--start", "1"), ("--workers", "1"), ("--seed", "3"), ("--rare", *LOST)),
    ),
    "range": (FAR, (("--points", "2", "--workers", "1"),)),
    "channels": (HOUSE, ((),)),
    "validate": ("", ((),)),
    "bench-test": (OUTPUT, (("--starts", "3", "--minutes", "0.1", "--workers", "1"),)),
    "layout show": ("", ((),)),
    "layout check": ("", ((),)),
    "layout compare": ("", ((),)),
    "failsafe": (OUTPUT, (QUICK, (*QUICK, *SILENT))),
    "tune": (SECOND, ((*VARY, "--workers", "1"),)),
    "firmware": ("", ((str(TAKES_ALL),),)),
    "fit": ("", (("--workers", "1"),)),
}
"""What stands in the scenario besides, and the options with which each is tried."""


def _marks(name: str, words: tuple[str, ...]) -> list[pytest.MarkDecorator]:
    is_slow = "--rare" in words or name == "fit"
    return [pytest.mark.slow] * is_slow + [needs_compiler] * (name == "firmware")


def commands_with_json() -> Iterator[str]:
    """Every command that writes JSON into a file."""

    def walk(command: Any, name: str) -> Iterator[str]:
        for inner, sub in getattr(command, "commands", {}).items():
            yield from walk(sub, f"{name} {inner}".strip())
        if any("--json" in p.opts and not p.is_flag for p in command.params if p.opts):
            yield name

    yield from walk(typer.main.get_command(app), "")


def schemas() -> dict[str, Any]:
    document: dict[str, Any] = json.loads(typed("schema", "--results").out)
    return document


def test_every_command_that_writes_json_has_a_schema() -> None:
    writing = set(commands_with_json())

    assert {"run", "range", "channels"} <= writing
    assert writing == set(RESULTS) == set(COMMANDS)


def test_the_schemas_are_schemas() -> None:
    for schema in schemas().values():
        jsonschema.Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize(
    ("command", "options"),
    [
        # An estimate of rare trips compiles its own folds.
        pytest.param(name, words, marks=_marks(name, words))
        for name, (_, tries) in COMMANDS.items()
        for words in tries
    ],
)
def test_what_a_command_writes_is_as_its_schema_says(
    tmp_path: Path, command: str, options: tuple[str, ...]
) -> None:
    scenario = tiny(tmp_path, COMMANDS[command][0])
    named = f"{scenario}:plain_6"
    read = {"layout compare": (named, named), "layout show": (named,), "layout check": (named,)}
    if command == "fit":
        read["fit"] = (scenario, str(written_logs(tmp_path, seed=5)["receiver"]))
    done = typed(*command.split(), *read.get(command, (scenario,)), *options, "--json", "-")
    document, schema = json.loads(done.out), schemas()[command]

    jsonschema.Draft202012Validator(schema).validate(document)
    if isinstance(document, dict):
        assert set(document) <= set(_properties(schema))


@pytest.mark.parametrize("command", REPORTS)
def test_the_data_of_a_report_have_the_type_of_its_schema(command: str) -> None:
    assert type(REPORTS[command]().data) is RESULTS[command]


@pytest.mark.parametrize("key", ["figures", "reaction", "requirements"])
def test_a_schema_refuses_results_without_what_it_says(tmp_path: Path, key: str) -> None:
    document = json.loads(typed("run", tiny(tmp_path), "--start", "0", "--json", "-").out)
    del document[key]

    with pytest.raises(jsonschema.ValidationError, match=key):
        jsonschema.Draft202012Validator(schemas()["run"]).validate(document)


def _properties(schema: dict[str, Any]) -> dict[str, Any]:
    name = schema["$ref"].rsplit("/", 1)[-1]
    properties: dict[str, Any] = schema["$defs"][name]["properties"]
    return properties
