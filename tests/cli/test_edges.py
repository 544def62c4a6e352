"""Every number of every option has a highest sensible value, and is refused beyond it."""

from collections.abc import Iterator
from typing import get_args

import pytest

from radiosim.cli import app  # noqa: F401 - knows every command
from radiosim.cli.harness import _entries
from radiosim.cli.options import Options
from tests.cli.typed import typed

OF_KEYS = ("--duration-s", "--seed")
"""Options that stand for a key of the scenario, whose own limits they have."""
BEYOND = ("1e308", "1e999", "inf", "-inf", "nan", "-1e308", "9" * 400)


def commands(of: type[Options]) -> Iterator[type[Options]]:
    for kind in of.__subclasses__():
        if "COMMAND" in vars(kind):
            yield kind
        yield from commands(kind)


NUMBERS = [
    (kind.COMMAND, entry.option, entry.typed.high)
    for kind in dict.fromkeys(commands(Options))
    for entry in _entries(kind)
    if {int, float} & {entry.kind, *get_args(entry.kind)}
    if entry.option not in OF_KEYS and (kind.COMMAND, entry.option) != ("run", "--starts")
]


@pytest.mark.parametrize(("command", "option", "high"), NUMBERS)
def test_a_number_beyond_its_edges_is_refused_in_one_line(
    command: str, option: str, high: float | None
) -> None:
    assert high is not None, f"{command} {option} has no highest value"
    for said in (*BEYOND, f"{2 * int(high)}"):
        done = typed(*command.split(), "smallest", option, said)
        assert (done.code, len(done.err.splitlines())) == (2, 1), said
        assert option in done.err


@pytest.mark.parametrize("said", ["=", ":", ",", "==;:", "; = ;"])
def test_transmitters_without_a_name_are_refused(said: str) -> None:
    done = typed("new", "-", "--yes", "--transmitters", said)

    assert (done.code, len(done.err.splitlines())) == (2, 1)
