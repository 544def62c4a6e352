"""Looks at a run are parts of it, and the last is all of it."""

from pathlib import Path

import pytest

from radiosim.report.live.answer import summary_of
from radiosim.study.live.looks import Outdated, looks, sizes_of
from radiosim.study.starts import simulate_starts
from tests.live.served import SMALL, desk


def test_looks_double_up_to_the_whole_run() -> None:
    assert sizes_of(1) == (1,)
    assert sizes_of(20) == (1, 2, 4, 8, 16, 20)
    assert sizes_of(1000) == (1, 2, 4, 8, 16, 32, 64, 1000)


def test_the_last_look_is_the_run(tmp_path: Path) -> None:
    scenario = desk(tmp_path).scenario
    *_, last = looks(scenario, lambda: False)

    assert summary_of(scenario, last).results() == simulate_starts(scenario).results()


@pytest.mark.parametrize("asked", [1, 2, 7])
def test_nothing_more_is_simulated_for_somebody_who_is_gone(tmp_path: Path, asked: int) -> None:
    scenario = desk(tmp_path).scenario
    times = 0

    def is_outdated() -> bool:
        nonlocal times
        times += 1
        return times >= asked

    with pytest.raises(Outdated):
        list(looks(scenario, is_outdated))
    assert times == asked


def test_starts_placed_on_beats_are_no_ordinary_ones(tmp_path: Path) -> None:
    beating = SMALL.replace("period_ms = 23", "period_ms = 20").replace("starts = 5", "starts = 4")
    found = list(looks(desk(tmp_path, beating).scenario, lambda: False))

    # The first start, and each third after it, is placed on a beat (rule T6).
    assert [look.chance_of_more for look in found] == [None, 1 / 2, 1 / 3]
