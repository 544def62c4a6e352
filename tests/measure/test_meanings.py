from msgspec import Struct

from radiosim.measure.meanings import AIR, FAULTS, MEANINGS, OUTPUT, RECEIVER, STREAM, unit_of
from radiosim.measure.summary import (
    AirFigures,
    FailsafeFigures,
    FaultFigures,
    OutputFigures,
    ReceiverFigures,
    StreamFigures,
)
from radiosim.scenario.checks.requirement_checks import figure_paths

SAID_ELSEWHERE = {"failsafe", "stream", "kind", "unit", "at_s", "for_s", "outputs"}
"""A table of its own, or what the scenario says."""


def names(*structs: type[Struct]) -> set[str]:
    found = {name for struct in structs for name in struct.__struct_fields__}
    return {name for name in found - SAID_ELSEWHERE if not name.endswith("_ci95")}


def test_every_figure_has_a_meaning() -> None:
    of_failsafe = {f"failsafe.{name}" for name in names(FailsafeFigures)}

    assert set(STREAM) == names(StreamFigures) | of_failsafe
    assert set(OUTPUT) == names(OutputFigures)
    assert set(AIR) == names(AirFigures)
    assert set(RECEIVER) == names(ReceiverFigures)
    assert set(FAULTS) == names(FaultFigures)


def test_every_figure_that_a_requirement_can_name_has_a_meaning() -> None:
    known = {".".join((*table, name)) for table, some in MEANINGS.items() for name in some}

    for path in figure_paths(("NAME",), ("NAME",)):
        assert path in known or path.rsplit(".", 1)[0] in known


def test_units_follow_the_names() -> None:
    units = {name: unit_of(name) for name in (*STREAM, *OUTPUT, *AIR)}

    assert units["gap_ms"] == "ms"
    assert units["longest_gap_at_s"] == units["failsafe.seconds_on"] == "s"
    assert units["duty_cycle"] == units["delivery_ratio"] == "0 to 1"
    assert units["update_rate_hz"] == "Hz"
    assert units["failsafe.nuisance_per_hour"] == "an hour"
    assert units["sampled"] == "a count"
