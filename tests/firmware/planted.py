"""Planted mistakes and correct twins, and what each rung says of them: the tables of README.

`python -m tests.firmware.planted` runs them all and writes the tables. On `chip` a program stands
on a board that moves real bytes and makes real pulses, and is predicted with its own times.
"""

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from radiosim.errors import FirmwareError
from radiosim.firmware.board import board_of
from radiosim.firmware.build import work_folder
from radiosim.firmware.chip import chip_bench
from radiosim.firmware.chip_measured import measured
from radiosim.firmware.chip_tried import tried_on_chip
from radiosim.firmware.emulator import compiled_for_chip
from radiosim.firmware.results import ProgramResults
from radiosim.firmware.rungs import CHIP, RUNGS, bench_on
from radiosim.firmware.settings_header import link_header
from radiosim.firmware.tried import tried
from radiosim.firmware.worked_out import Ran, results_of
from radiosim.scenario import Scenario
from tests.firmware.programs import EXAMPLES
from tests.readme.make import README
from tests.study.tune.scenarios import shipped

BOTH_OFF = (
    "fault=[{at_s=4.0, kind='power_off', unit='drive', for_s=3.0}, "
    "{at_s=4.0, kind='power_off', unit='head', for_s=3.0}]"
)
ONE_OFF = "fault=[{at_s=4.0, kind='power_off', unit='drive', for_s=3.0}]"
CAR = ("shared-timer", "failsafe.drive.fed_by=own", "duration_s=9")
CRAWLER = ("culvert-crawler", "duration_s=12")


@dataclass(frozen=True, kw_only=True)
class Case:
    """A program made of an example by changing some of its text."""

    name: str
    example: str = "car.c"
    scenario: tuple[str, ...] = (*CAR, ONE_OFF)
    changes: tuple[tuple[str, str], ...]
    clock_ms: int = 0
    finds: str = ""
    """What the verdict must name."""
    board: tuple[str, ...] = ()
    """What its board on the chip is told besides: names that `board.c` knows."""
    on_chip: tuple[str, ...] = ()
    """What of the scenario is otherwise there."""


LOOK = "!stream->is_alive || rx_ms() - stream->fed_ms <= MS(timeout_us)"
WRITE = "rx_pulse(LINK_OUT_MOTOR, pulse_us(hand.throttle, DRIVE_V1_THROTTLE_MOST));"
OVER_THE_WRAP = ("duration_s=68", ONE_OFF.replace("4.0", "65.5"))
"""A chip's clock begins at 0: its count of 16 bits ends 65.536 s after the boot."""
NEAR_WRAP = 65_536 - 3_000
"""The count ends between the fault, 2.9 s after the boot, and its failsafe."""
MISTAKES = (
    Case(
        name="one timer for all streams",
        changes=(("stream->fed_ms = rx_ms();", "drive.fed_ms = head.fed_ms = rx_ms();"),),
        finds="motor",
    ),
    Case(
        name="failsafe is looked at only when a frame has come",
        scenario=(*CAR, BOTH_OFF),
        changes=((LOOK, f"!(drive.is_fresh || head.is_fresh) || {LOOK}"),),
        finds="motor",
    ),
    Case(
        name="written only when the value changes",
        changes=(
            (
                WRITE,
                f"static int16_t last; if (hand.throttle != last) {WRITE} last = hand.throttle;",
            ),
        ),
        finds="motor",
    ),
    Case(
        name="stale values feed the timer",
        example="crawler.c",
        scenario=(*CRAWLER, "fault=[{at_s=4.0, kind='stale', unit='drive', for_s=3.0}]"),
        changes=(("if (has_count && hand.count == last_count)", "if (0)"),),
        finds="left_track",
    ),
    Case(
        name="resumes without a stick at rest",
        example="crawler.c",
        scenario=(*CRAWLER, "fault=[{at_s=3.0, kind='power_off', unit='drive', for_s=1.0}]"),
        changes=((" && is_at_rest()", ""),),
        finds="track",
    ),
    Case(
        name="one frame a pass where all are read",
        changes=(("while (rx_take(&pipe, bytes))", "if (rx_take(&pipe, bytes))"),),
        finds="is read elsewhere",
    ),
    Case(
        name="a loop that waits for a frame",
        changes=(
            (
                "while (rx_take(&pipe, bytes)) {",
                "while (!rx_take(&pipe, bytes));\n    {",
            ),
        ),
        finds="is read elsewhere",
    ),
    Case(
        name="a delay that blocks",
        changes=(("drive.is_fresh = head.is_fresh = 0;", "rx_wait_us(2500); drive.is_fresh = 0;"),),
        finds="is read elsewhere",
    ),
    Case(
        name="two outputs in each other's place",
        changes=((WRITE, WRITE.replace("MOTOR", "STEERING")),),
        finds="motor",
    ),
)
TWINS = (
    Case(
        name="differences as signed numbers",
        changes=(
            (LOOK, "!stream->is_alive || (int32_t)(rx_ms() - stream->fed_ms) <= (int32_t)250"),
        ),
        scenario=(*CAR, ONE_OFF, "failsafe.head.timeout_ms=250"),
    ),
    Case(
        name="microseconds",
        changes=(
            ("stream->fed_ms = rx_ms();", "stream->fed_ms = rx_us();"),
            (LOOK, "!stream->is_alive || rx_us() - stream->fed_ms <= timeout_us"),
        ),
    ),
    Case(
        name="one frame a pass where the scenario says so",
        scenario=(*CAR, ONE_OFF, "receiver.read=one"),
        changes=(("while (rx_take(&pipe, bytes))", "if (rx_take(&pipe, bytes))"),),
    ),
)
AT_THE_WRAP = (
    Case(
        name="a deadline of 16 bits",
        changes=(
            (LOOK, "!stream->is_alive || (uint16_t)rx_ms() <= (uint16_t)(stream->fed_ms + 250)"),
        ),
        scenario=(*CAR, ONE_OFF, "failsafe.head.timeout_ms=250"),
        clock_ms=NEAR_WRAP,
        on_chip=OVER_THE_WRAP,
    ),
    Case(
        name="a difference of 16 bits, where an int has 16",
        changes=(
            (LOOK, "!stream->is_alive || (uint16_t)rx_ms() - (uint16_t)stream->fed_ms <= 250"),
        ),
        scenario=(*CAR, ONE_OFF, "failsafe.head.timeout_ms=250"),
        clock_ms=NEAR_WRAP,
        on_chip=OVER_THE_WRAP,
    ),
)
NARROW = Case(
    name="a product that 16 bits cannot hold",
    changes=(("(int32_t)number * 500 / most", "number * 500 / most"),),
)
HANG = "fault=[{at_s=4.0, kind='hang', unit='receiver', for_s=3.0}]"
WATCHED = (*CAR, HANG, "receiver.watchdog_ms=256", "receiver.listens_in_boot=false")
WATCHDOG = "WATCHDOG=WDTO_250MS"
OF_BOARDS = (
    Case(name="the radio set up before it is awake", changes=(), board=("RADIO_WAIT_MS=50",)),
    Case(name="one frame an edge of the radio's line", changes=(), board=("ONE_AN_EDGE",)),
    Case(name="a watchdog that is never switched on", scenario=WATCHED, changes=()),
    Case(
        name="a watchdog that a timer's interrupt feeds",
        scenario=WATCHED,
        changes=(),
        board=(WATCHDOG, "BY_TIMER"),
    ),
)
"""The logic is right, its board is not."""
AS_IT_IS = (
    Case(name="the car as it is", changes=()),
    Case(name="its watchdog fed once a pass", scenario=WATCHED, changes=(), board=(WATCHDOG,)),
    *(
        Case(name=name, example="crawler.c", scenario=case.scenario, changes=())
        for case in MISTAKES
        if case.example == "crawler.c"
        for name in [f"the crawler as it is, against: {case.name}"]
    ),
)
ALL_MISTAKES = (*MISTAKES, AT_THE_WRAP[0], NARROW, *OF_BOARDS)
ALL_TWINS = (*AS_IT_IS, *TWINS, AT_THE_WRAP[1])
HEADS = ("planted mistake", "correct twin")

_BOARD = Path(__file__).parent / "board.c"
_PINS = "mhz=16, select=B2, enable=B1, line=D2, mark=C0"
_PINS_OF = {
    "car.c": "motor=D3, steering=D4, pan=D5, tilt=D6",
    "crawler.c": "left_track=D3, right_track=D4, lamp=C1, pan=D6, tilt=D7",
}
_BOARD_OF = {"car.c": (), "crawler.c": ("FLUSH",)}
_ON_CHIP = {"car.c": (), "crawler.c": ("receiver.work=[]", "receiver.listens_in_boot=false")}
"""What the board is otherwise than the example's scenario has it."""


@cache
def scenario_of(words: tuple[str, ...]) -> Scenario:
    """A shipped scenario with changes."""
    return shipped(*words)


def changed(case: Case) -> str:
    """The text of a case's program."""
    text = (EXAMPLES / case.example).read_text(encoding="utf-8")
    for old, new in case.changes:
        assert old in text
        text = text.replace(old, new)
    return text


def results_on(rung: str, case: Case, folder: Path) -> ProgramResults:
    """What a rung finds of a case; FirmwareError where it refuses it."""
    source = folder / case.example
    source.write_text(changed(case), encoding="utf-8")
    if rung == CHIP:
        return _on_chip(case, source)
    scenario = scenario_of(case.scenario)
    with bench_on(rung, [source], {"link.h": link_header(scenario)}) as (bench, _):
        one = tried(scenario, 0, bench, clock_ms=case.clock_ms)
    return results_of(scenario, _ran(rung, case.clock_ms), [one])


def _on_chip(case: Case, source: Path) -> ProgramResults:
    words = (*case.scenario, *_ON_CHIP[case.example], *case.on_chip)
    scenario = scenario_of(words)
    board = board_of(f"{_PINS}, {_PINS_OF[case.example]}", scenario)
    with work_folder() as work:
        (work / "link.h").write_text(link_header(scenario), encoding="utf-8")
        defines = (*_BOARD_OF[case.example], *case.board)
        image, _ = compiled_for_chip(work, [source], board=[_BOARD], defines=defines)
        with chip_bench(scenario, image, board) as bench:
            known = shipped(*words, *measured(scenario, board, bench).settings)
            one = tried_on_chip(known, 0, bench, board)
    return results_of(known, _ran(CHIP), [one])


def _ran(rung: str, clock_ms: int = 0) -> Ran:
    return Ran(on=rung, sources=("rx.c",), stamp="", warning="", warnings=0, clock_ms=clock_ms)


def cell(rung: str, case: Case, folder: Path) -> str:
    """What a rung says of a case, in the words of the tables."""
    try:
        verdict = results_on(rung, case, folder).verdict
    except FirmwareError:
        return "refused"
    is_right = case in ALL_TWINS
    return {
        "HELD": "held" if is_right else "no",
        "NOT HELD": "blamed" if is_right else "found",
        "NOT JUDGED": "not judged",
    }[verdict]


def table(head: str, cases: Sequence[Case], folder: Path) -> str:
    """A table of README, each cell run."""
    lines = [f"| {head} | {' | '.join(RUNGS)} |", "|---|" + "---|" * len(RUNGS)]
    for case in cases:
        cells = (cell(rung, case, folder) for rung in RUNGS)
        lines.append(f"| {case.name} | {' | '.join(cells)} |")
    return "\n".join(lines)


def shown(head: str) -> dict[str, list[str]]:
    """Rows of a table as README has it."""
    _, _, after = README.read_text(encoding="utf-8").partition(f"| {head} |")
    lines = after.split("\n\n", maxsplit=1)[0].split("\n")[2:]
    rows = ([cell.strip() for cell in line.split("|")[1:-1]] for line in lines)
    return {name: cells for name, *cells in rows}


def main() -> None:
    """Write both tables again."""
    text = README.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        for head, cases in zip(HEADS, (ALL_MISTAKES, ALL_TWINS), strict=True):
            before, mark, after = text.partition(f"| {head} |")
            assert mark, f"README has no table that begins with {mark}"
            rest = after.partition("\n\n")[2]
            text = f"{before}{table(head, cases, Path(folder))}\n\n{rest}"
    README.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
