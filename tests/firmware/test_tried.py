"""Examples do what is predicted, planted mistakes are found, and their correct twins are not."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from radiosim.errors import FirmwareError
from radiosim.firmware.bench import bench_of
from radiosim.firmware.build import built_for_host
from radiosim.firmware.results import ProgramResults
from radiosim.firmware.settings_header import link_header, stamp_of
from radiosim.firmware.tried import tried
from radiosim.firmware.worked_out import Ran, fault_at, results_of
from radiosim.scenario import Scenario, parse
from radiosim.units import ns_from_s
from tests.firmware.programs import EXAMPLES, needs_compiler
from tests.study.tune.scenarios import shipped

pytestmark = needs_compiler

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


LOOK = "!stream->is_alive || rx_ms() - stream->fed_ms <= MS(timeout_us)"
WRITE = "rx_pulse(LINK_OUT_MOTOR, pulse_us(hand.throttle, DRIVE_V1_THROTTLE_MOST));"
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
    ),
    Case(
        name="its correct twin, where an int has 16 bits",
        changes=(
            (LOOK, "!stream->is_alive || (uint16_t)rx_ms() - (uint16_t)stream->fed_ms <= 250"),
        ),
        scenario=(*CAR, ONE_OFF, "failsafe.head.timeout_ms=250"),
        clock_ms=NEAR_WRAP,
    ),
)


@cache
def scenario_of(words: tuple[str, ...]) -> Scenario:
    return shipped(*words)


def changed(case: Case) -> str:
    text = (EXAMPLES / case.example).read_text(encoding="utf-8")
    for old, new in case.changes:
        assert old in text
        text = text.replace(old, new)
    return text


def results(
    source: Path, scenario: Scenario, *, starts: int = 2, clock_ms: int = 0
) -> ProgramResults:
    headers = {"link.h": link_header(scenario)}
    with built_for_host([source], headers) as built, bench_of(built.executable) as bench:
        found = [tried(scenario, start, bench, clock_ms=clock_ms) for start in range(starts)]
    ran = Ran(
        on="host",
        sources=(source.name,),
        stamp=stamp_of(scenario),
        warning=built.warning,
        warnings=built.warnings,
        clock_ms=clock_ms,
    )
    return results_of(scenario, ran, found)


def of_case(case: Case, folder: Path) -> ProgramResults:
    source = folder / case.example
    source.write_text(changed(case), encoding="utf-8")
    return results(source, scenario_of(case.scenario), clock_ms=case.clock_ms)


def named(found: ProgramResults) -> Iterator[str]:
    yield from (span.output for span in found.spans if span.is_judged)
    if found.read_elsewhere is not None:
        yield "is read elsewhere"


@pytest.mark.parametrize("case", MISTAKES, ids=lambda case: case.name)
def test_a_planted_mistake_is_found_and_named(case: Case, tmp_path: Path) -> None:
    found = of_case(case, tmp_path)

    assert found.verdict == "NOT HELD"
    assert any(case.finds in name for name in named(found))


@pytest.mark.parametrize("case", TWINS, ids=lambda case: case.name)
def test_a_correct_twin_is_not_blamed(case: Case, tmp_path: Path) -> None:
    assert of_case(case, tmp_path).verdict == "HELD"


@pytest.mark.parametrize("case", AT_THE_WRAP, ids=lambda case: case.name)
def test_where_the_clocks_count_ends_this_machine_does_not_judge(
    case: Case, tmp_path: Path
) -> None:
    assert of_case(case, tmp_path).verdict == "NOT JUDGED"


@pytest.mark.parametrize(
    ("example", "scenario"),
    [
        ("car.c", (*CAR, ONE_OFF)),
        ("car.c", ("late-goggles", "duration_s=6")),
        ("sketch.cpp", ("late-goggles", "duration_s=6")),
        ("crawler.c", (*CRAWLER, "fault=[{at_s=3.0, kind='power_off', unit='drive', for_s=1.0}]")),
        ("crawler.c", (*CRAWLER, "fault=[{at_s=3.0, kind='brownout', unit='receiver', for_s=1}]")),
        ("crawler.c", (*CRAWLER, "fault=[{at_s=3.0, kind='hang', unit='receiver'}]")),
    ],
    ids=lambda value: value if isinstance(value, str) else value[0],
)
def test_an_example_does_what_is_predicted(example: str, scenario: tuple[str, ...]) -> None:
    found = results(EXAMPLES / example, scenario_of(scenario))

    assert found.verdict == "HELD"
    assert found.reads_as_predicted == found.frames > 0
    assert all(output.changes for output in found.outputs)


def test_a_program_of_other_settings_is_refused(tmp_path: Path) -> None:
    headers = {"link.h": link_header(scenario_of((*CAR, ONE_OFF)))}
    other = scenario_of((*CAR, ONE_OFF, "failsafe.drive.timeout_ms=300"))
    with (
        built_for_host([EXAMPLES / "car.c"], headers) as built,
        bench_of(built.executable) as bench,
        pytest.raises(FirmwareError, match=r"was built with the settings [0-9A-F]{8}, the"),
    ):
        tried(other, 0, bench)


def test_a_fault_that_struck_several_units_names_them_all() -> None:
    scenario = parse(
        """
radio.profile = "gfsk-1M"
transmitter.a = { period_ms = 20, payload_bytes = 6 }
transmitter.b = { period_ms = 23, payload_bytes = 6 }
fault = [
    { at_s = 1, for_s = 5, kind = "stale", unit = "b" },
    { at_s = 2, for_s = 1, kind = "power_off", unit = "a" },
    { at_s = 2, for_s = 1, kind = "power_off", unit = "b" },
]
"""
    )

    told = [fault_at(scenario, ns_from_s(at_s)) for at_s in (0.5, 1.5, 2.5, 3.1)]

    assert told == ["", "stale b", "power_off a and b", "after power_off a and b"]
