"""Which rung finds which planted mistake: the tables of README, each cell run."""

from pathlib import Path

import pytest

from radiosim.firmware.emulator import lacking
from radiosim.firmware.rungs import CHIP, CORE, HOST, RUNGS
from tests.firmware.planted import (
    ALL_MISTAKES,
    ALL_TWINS,
    AS_IT_IS,
    HEADS,
    NARROW,
    Case,
    cell,
    results_on,
    shown,
)

pytestmark = pytest.mark.skipif(lacking() is not None, reason=lacking() or "")

CASES = {case.name: case for case in (*ALL_MISTAKES, *ALL_TWINS)}
CELLS = [(name, rung) for name in CASES for rung in RUNGS]
QUICK = [("one timer for all streams", CORE), ("two outputs in each other's place", CORE)]
SHOWN = {**shown(HEADS[0]), **shown(HEADS[1])}


def test_the_tables_have_every_case_and_every_mistake_is_found_by_a_rung() -> None:
    assert [list(shown(head)) for head in HEADS] == [
        [case.name for case in cases] for cases in (ALL_MISTAKES, ALL_TWINS)
    ]
    assert all("found" in cells for cells in shown(HEADS[0]).values())
    assert all(set(cells) <= {"held", "not judged"} for cells in shown(HEADS[1]).values())


@pytest.mark.parametrize(
    ("name", "rung"),
    [
        pytest.param(*one, id=f"{one[1]}-{one[0]}", marks=() if one in QUICK else pytest.mark.slow)
        for one in CELLS
    ],
)
def test_a_cell_of_the_readme_is_what_is_run(name: str, rung: str, tmp_path: Path) -> None:
    assert cell(rung, CASES[name], tmp_path) == SHOWN[name][RUNGS.index(rung)]


def test_what_is_too_wide_for_16_bits_is_found_on_core_and_not_on_host(tmp_path: Path) -> None:
    assert results_on(HOST, NARROW, tmp_path).verdict == "HELD"
    found = results_on(CORE, NARROW, tmp_path)
    assert found.verdict == "NOT HELD"
    assert {"motor", "steering", "pan", "tilt"} >= {span.output for span in found.spans}


@pytest.mark.slow
def test_the_chip_reads_what_is_right_as_predicted(tmp_path: Path) -> None:
    right: Case = AS_IT_IS[0]
    found = results_on(CHIP, right, tmp_path)
    assert found.reads_as_predicted == found.frames > 500
