"""Options that all commands have in common: made, checked and told in one place."""

from dataclasses import FrozenInstanceError
from pathlib import Path

import pytest

from radiosim.cli.app import app
from radiosim.cli.harness import checked, command_line
from radiosim.cli.layout import CompareOptions
from radiosim.cli.options import (
    Files,
    JsonFile,
    PageAndFiles,
    Seeded,
    Simulates,
    load_scenario,
)
from radiosim.cli.run import RunOptions
from radiosim.cli.studies import BenchTestOptions, FailsafeOptions, RangeOptions, TuneOptions
from tests.cli.typed import tiny, typed

SIMULATING = (RunOptions, TuneOptions, FailsafeOptions, RangeOptions, BenchTestOptions)


def test_a_command_is_told_with_what_was_said_alone() -> None:
    said = RangeOptions(
        source="my scenario.toml",
        points=12,
        starts=3,
        set_=("a=1", "b=x y"),
        duration_s=250.0,
        workers=2,
        json="-",
        page=Path("it's.html"),
    )

    assert command_line(said) == (
        "radiosim range 'my scenario.toml' --starts 3 --duration-s 250 --set a=1 --set 'b=x y' "
        """--page 'it'"'"'s.html'"""
    )


def test_a_flag_is_told_without_a_value_and_arguments_come_first() -> None:
    assert command_line(RunOptions(source="s.toml", rare=True)) == "radiosim run s.toml --rare"
    pair = CompareOptions(old="a:x", new="a:y", payload_length="fixed")
    assert command_line(pair) == "radiosim layout compare a:x a:y --payload-length fixed"


@pytest.mark.parametrize("options", SIMULATING)
def test_every_command_that_simulates_has_the_same_options_for_that(
    options: type[RunOptions],
) -> None:
    assert issubclass(options, (Seeded, Simulates, PageAndFiles, Files, JsonFile))
    chosen = options(source="s.toml")
    assert (chosen.engine, chosen.workers, chosen.seed, chosen.set_) == ("auto", None, None, ())


@pytest.mark.parametrize("command", ["run", "tune", "failsafe", "range", "bench-test"])
def test_an_unknown_engine_is_refused_before_anything_is_simulated(
    tmp_path: Path, command: str
) -> None:
    done = typed(command, tiny(tmp_path), "--engine", "swift")

    assert (done.code, done.out) == (2, "")
    assert done.err == "--engine: must be one of auto, reference, fast, got swift\n"


def test_what_was_said_comes_as_one_object_that_stays_as_it_is(tmp_path: Path) -> None:
    said = {"source": str(tiny(tmp_path)), "skip": ["hang"], "set_": None}
    chosen = checked(FailsafeOptions, said)

    assert (chosen.skip, chosen.set_, chosen.repeats) == (("hang",), (), 192)
    with pytest.raises(FrozenInstanceError):
        chosen.repeats = 1  # type: ignore[misc]


def test_every_command_has_a_name_of_its_own_and_says_what_it_does() -> None:
    names = [command.name for command in app.registered_commands]

    assert len(set(names)) == len(names)
    assert all(command.callback and command.callback.__doc__ for command in app.registered_commands)


@pytest.mark.parametrize(("hours", "starts"), [(0.5, 90), (0.501, 91), (0.001, 1)])
def test_hours_are_made_of_whole_starts(hours: float, starts: int) -> None:
    found = load_scenario("smallest", ("duration_s=20",), hours=hours)

    assert (found.starts, found.duration_s) == (starts, 20)
    assert load_scenario("smallest", ("duration_s=20", "starts=7")).starts == 7
