"""Every number of every key has a lowest and a highest value, and holds out at both."""

from pathlib import Path
from random import Random

import pytest

from radiosim.scenario.problems import problems, rule
from tests.scenario.fuzz.edges import Number, mutant_with, numbers
from tests.scenario.fuzz.judge import folder_ready, judge

TRIED, SEED = 24, 7
"""Of all numbers at all their values, so many go through reading, planning and a short run; all of
them by hand: `python -m tests.scenario.fuzz.edges`."""


def test_every_number_is_found_and_has_edges() -> None:
    found = {".".join(map(str, number.path)) for number in numbers()}

    assert {"air.range.track.0.0", "duration_s", "receiver.antenna.pattern.0.1"} <= found
    assert [number.path for number in numbers() if None in number.edges] == []


@pytest.mark.parametrize("number", numbers(), ids=lambda number: ".".join(map(str, number.path)))
def test_what_is_beyond_its_edges_is_refused_with_them(number: Number) -> None:
    for value in number.tried():
        found = [text for _, text in problems(value, number.kind)]

        assert bool(found) != number.holds(value), value
        assert all(text.startswith(f"must be {rule(number.kind)}, got ") for text in found)


def test_numbers_at_their_edges_and_beyond_end_in_a_refusal_or_a_run(tmp_path: Path) -> None:
    folder_ready(tmp_path)
    every = [(number, value) for number in numbers() for value in number.tried()]
    for number, value in Random(SEED).sample(every, TRIED):
        verdict = judge(mutant_with(number, value), tmp_path, "simulated")

        assert not verdict.wrong, f"{number.path} = {value}: {verdict.wrong}"
        assert verdict.fate == "refused" or number.holds(value), f"{number.path} = {value}"
