"""Looks at a run are parts of it, and the last is all of it."""

from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from radiosim.measure.summarise import summary_of_pool
from radiosim.report.live.answer import summary_of
from radiosim.study.live.looks import Outdated, looks, sizes_of
from radiosim.study.starts import simulate_starts
from tests.engines.random_scenarios import accepted, documents
from tests.live.served import SMALL, desk


def test_looks_double_up_to_the_whole_run() -> None:
    assert sizes_of(1) == (1,)
    assert sizes_of(20) == (1, 2, 4, 8, 16, 20)
    assert sizes_of(1000) == (1, 2, 4, 8, 16, 32, 64, 1000)


def test_the_last_look_is_the_run(tmp_path: Path) -> None:
    scenario = desk(tmp_path).scenario
    *_, last = looks(scenario, lambda: False)

    assert summary_of(scenario, last).results() == simulate_starts(scenario).results()


@pytest.mark.slow
@settings(max_examples=3, deadline=None)
@given(documents(), st.integers(2, 4))
def test_every_look_is_a_run_of_so_many_starts(document: dict[str, Any], starts: int) -> None:
    scenario = accepted(document)
    assume(scenario is not None)
    assert scenario is not None
    whole = msgspec.structs.replace(scenario, starts=starts)

    for look in looks(whole, lambda: False):
        part = simulate_starts(msgspec.structs.replace(whole, starts=look.starts))
        assert summary_of_pool(whole, look.pool).figures == part.figures
        assert summary_of(whole, look).worst == part.worst


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
