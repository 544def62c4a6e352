"""Every number of every option has a lowest and a highest value, and is refused beyond them."""

import math
from collections.abc import Iterator
from typing import get_args

import pytest

from radiosim.cli import app  # noqa: F401 - knows every command
from radiosim.cli.harness import _entries
from radiosim.cli.options import Options
from radiosim.edges import Edges, edge_text
from tests.cli.typed import typed

ODD = (
    "5e-324",
    "1e-300",
    "-0",
    "1e308",
    "1e999",
    "inf",
    "-inf",
    "nan",
    "-1e308",
    "-5e-324",
    "9" * 400,
)


def commands(of: type[Options]) -> Iterator[type[Options]]:
    for kind in of.__subclasses__():
        if "COMMAND" in vars(kind):
            yield kind
        yield from commands(kind)


NUMBERS = [
    (kind.COMMAND, entry.option, entry.typed.edges)
    for kind in dict.fromkeys(commands(Options))
    for entry in _entries(kind)
    if {int, float} & {entry.kind, *get_args(entry.kind)}
]


@pytest.mark.parametrize(("command", "option", "edges"), NUMBERS)
def test_a_number_beyond_its_edges_is_refused_with_them_in_one_line(
    command: str, option: str, edges: Edges | None
) -> None:
    assert edges is not None, f"{command} {option} has no lowest and highest value"
    past = (f"{2 * int(edges.high)}", f"{math.nextafter(edges.low, -math.inf)}", f"{-edges.high}")
    for said in (*ODD, *past):
        if edges.refusal(float(said)):
            done = typed(*command.split(), "smallest", option, said)
            assert (done.code, len(done.err.splitlines())) == (2, 1), said
            assert done.err.startswith(f"{option}: must be a ")
            assert f" >= {edge_text(edges.low)} and <= {edge_text(edges.high)}, got " in done.err


def test_help_tells_the_edges() -> None:
    told = " ".join(typed("failsafe", "--help").out.split())

    assert "[0.001<=x<=3600000]" in told
    assert told.count("<=x<=") == sum(command == "failsafe" for command, _, _ in NUMBERS)


@pytest.mark.parametrize("said", ["=", ":", ",", "==;:", "; = ;"])
def test_transmitters_without_a_name_are_refused(said: str) -> None:
    done = typed("new", "-", "--yes", "--transmitters", said)

    assert (done.code, len(done.err.splitlines())) == (2, 1)
