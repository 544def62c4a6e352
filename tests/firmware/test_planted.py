"""Which rung finds which planted mistake: the table of README, each cell tried.

On `core` the programs are those that are tried on this machine; on `chip` they stand on a board
that moves real bytes and makes real pulses.
"""

from functools import cache
from pathlib import Path

import pytest

from radiosim.errors import FirmwareError
from radiosim.firmware.board import board_of
from radiosim.firmware.build import work_folder
from radiosim.firmware.chip import chip_bench
from radiosim.firmware.chip_measured import measured
from radiosim.firmware.chip_tried import tried_on_chip
from radiosim.firmware.emulator import compiled_for_chip, lacking
from radiosim.firmware.results import ProgramResults
from radiosim.firmware.rungs import bench_on
from radiosim.firmware.settings_header import link_header
from radiosim.firmware.tried import tried
from radiosim.firmware.worked_out import Ran, results_of
from radiosim.scenario import Scenario
from tests.firmware.programs import EXAMPLES
from tests.firmware.test_tried import AT_THE_WRAP, MISTAKES, TWINS, Case
from tests.study.tune.scenarios import shipped

pytestmark = pytest.mark.skipif(lacking() is not None, reason=lacking() or "")

BOARD = Path(__file__).parent / "board.c"
PINS = "mhz=16, select=B2, enable=B1, line=D2, mark=C0, motor=D3, steering=D4, pan=D5, tilt=D6"
NARROW = Case(
    name="a product that 16 bits cannot hold",
    changes=(("(int32_t)number * 500 / most", "number * 500 / most"),),
)
NOT_SHOWN_BY_PINS = ("one frame a pass where all are read", "a delay that blocks")
"""Two that wait at once are read a pass apart; a delay is part of the pass that is measured."""
HOST, CORE, CHIP = "host", "core", "chip"


@cache
def scenario_of(case: Case) -> Scenario:
    name, *overrides = case.scenario
    return shipped(name, *overrides)


def text_of(case: Case) -> str:
    text = (EXAMPLES / case.example).read_text(encoding="utf-8")
    for before, after in case.changes:
        assert before in text
        text = text.replace(before, after)
    return text


def ran(rung: str, clock_ms: int = 0) -> Ran:
    return Ran(on=rung, sources=("rx.c",), stamp="", warning="", warnings=0, clock_ms=clock_ms)


def on_logic(case: Case, rung: str, folder: Path) -> ProgramResults:
    """What a rung without peripherals finds."""
    scenario = scenario_of(case)
    source = folder / case.example
    source.write_text(text_of(case), encoding="utf-8")
    with bench_on(rung, [source], {"link.h": link_header(scenario)}) as (bench, _):
        one = tried(scenario, 0, bench, clock_ms=case.clock_ms)
    return results_of(scenario, ran(rung, case.clock_ms), [one])


def on_chip(case: Case, folder: Path, define: str = "") -> ProgramResults:
    """What the whole firmware on the chip is found to do, predicted with its own times."""
    scenario = scenario_of(case)
    source = folder / case.example
    source.write_text(text_of(case), encoding="utf-8")
    board = board_of(PINS, scenario)
    with work_folder() as work:
        (work / "link.h").write_text(link_header(scenario), encoding="utf-8")
        defines = (define,) if define else ()
        image, _ = compiled_for_chip(work, [source], board=[BOARD], defines=defines)
        with chip_bench(scenario, image, board) as bench:
            times = measured(scenario, board, bench)
            name, *overrides = case.scenario
            known = shipped(name, *overrides, *times.settings)
            one = tried_on_chip(known, 0, bench, board)
    return results_of(known, ran(CHIP), [one])


RIGHT = Case(name="as it is", changes=())
ON_CAR = tuple(case for case in MISTAKES if case.example == "car.c")
QUICK = ("one timer for all streams", "two outputs in each other's place")


@pytest.mark.parametrize(
    "case",
    [
        pytest.param(case, id=case.name, marks=() if case.name in QUICK else (pytest.mark.slow,))
        for case in MISTAKES
    ],
)
def test_what_the_host_finds_the_core_finds(case: Case, tmp_path: Path) -> None:
    found = on_logic(case, CORE, tmp_path)
    assert found.verdict == "NOT HELD"


@pytest.mark.slow
@pytest.mark.parametrize("case", TWINS, ids=lambda case: case.name)
def test_no_correct_twin_is_blamed_on_core(case: Case, tmp_path: Path) -> None:
    assert on_logic(case, CORE, tmp_path).verdict == "HELD"


def test_what_is_too_wide_for_16_bits_is_found_on_core_and_not_on_host(tmp_path: Path) -> None:
    assert on_logic(NARROW, HOST, tmp_path).verdict == "HELD"
    found = on_logic(NARROW, CORE, tmp_path)
    assert found.verdict == "NOT HELD"
    assert {"motor", "steering", "pan", "tilt"} >= {span.output for span in found.spans}


@pytest.mark.slow
def test_near_a_wrap_the_core_judges_where_the_host_does_not(tmp_path: Path) -> None:
    deadline, twin = AT_THE_WRAP
    assert on_logic(deadline, HOST, tmp_path).verdict == "NOT JUDGED"
    assert on_logic(deadline, CORE, tmp_path).verdict == "NOT HELD"
    assert on_logic(twin, CORE, tmp_path).verdict == "HELD"


@pytest.mark.slow
@pytest.mark.parametrize("case", [*ON_CAR, NARROW], ids=lambda case: case.name)
def test_the_chip_finds_what_its_pins_show(case: Case, tmp_path: Path) -> None:
    if case.name == "a loop that waits for a frame":
        with pytest.raises(FirmwareError, match="and then no more"):
            on_chip(case, tmp_path)
        return
    is_shown = case.name not in NOT_SHOWN_BY_PINS
    assert on_chip(case, tmp_path).verdict == ("NOT HELD" if is_shown else "HELD")


@pytest.mark.slow
def test_the_chip_holds_what_is_right(tmp_path: Path) -> None:
    found = on_chip(RIGHT, tmp_path)
    assert found.verdict == "HELD"
    assert found.reads_as_predicted == found.frames > 500


@pytest.mark.slow
@pytest.mark.parametrize("case", TWINS[:2], ids=lambda case: case.name)
def test_no_correct_twin_is_blamed_on_chip(case: Case, tmp_path: Path) -> None:
    assert on_chip(case, tmp_path).verdict == "HELD"


RADIO = {
    "the radio set up before it is awake": "RADIO_WAIT_MS=50",
    "one frame an edge of the radio's line": "ONE_AN_EDGE",
}


@pytest.mark.slow
@pytest.mark.parametrize("define", RADIO.values())
def test_what_only_the_chip_finds(define: str, tmp_path: Path) -> None:
    """The logic is right; its board sets the radio up too early, or reads one frame an edge."""
    assert on_chip(RIGHT, tmp_path, define).verdict == "NOT HELD"


def cells(case: Case) -> tuple[str, str, str]:
    """What is tried above of a mistake that the host finds."""
    if case not in ON_CAR:
        return "found", "found", "not tried"
    if case.name == "a loop that waits for a frame":
        return "found", "found", "refused"
    return "found", "found", "no" if case.name in NOT_SHOWN_BY_PINS else "found"


def test_the_table_of_the_readme_is_what_is_tried() -> None:
    text = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    table = text.split("| planted mistake | host | core | chip |")[1].split("\n\n", maxsplit=1)[0]
    rows = [tuple(cell.strip() for cell in line.split("|")[1:-1]) for line in table.split("\n")[2:]]

    assert {name: found for name, *found in rows} == {
        **{case.name: list(cells(case)) for case in MISTAKES},
        AT_THE_WRAP[0].name: ["not judged", "found", "not tried"],
        NARROW.name: ["no", "found", "found"],
        **{name: ["no", "no", "found"] for name in RADIO},
    }
