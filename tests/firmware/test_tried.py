"""Examples do what is predicted, planted mistakes are named, and their correct twins are not."""

from collections.abc import Iterator
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
from tests.firmware.planted import (
    AT_THE_WRAP,
    CAR,
    CRAWLER,
    MISTAKES,
    ONE_OFF,
    TWINS,
    Case,
    changed,
    scenario_of,
)
from tests.firmware.programs import EXAMPLES, needs_compiler

pytestmark = needs_compiler


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
