"""The rows of the register of fault kinds."""

import re
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

import radiosim
from radiosim.engine.plan import make_plan
from radiosim.engine.plan_rows import STEPS
from radiosim.registers.fault_kind import (
    AIR,
    GIVEN_BACK_BY,
    RECEIVER,
    TRANSMITTER,
    WATCHDOG,
    Drilled,
    Effect,
    FaultKind,
    FaultyUnit,
    NotOnBench,
    OnBench,
    UnitKind,
)
from radiosim.registers.fault_register import FAULT_KINDS, by_name, fault_kind, kinds_at
from radiosim.scenario import parse
from radiosim.scenario.schema import json_schema
from radiosim.study.drill.drill_kinds import drilled_kinds
from tests.cli.typed import typed

ROW = {name: getattr(FAULT_KINDS["hang"], name) for name in FaultKind.__struct_fields__}
SHAPES: dict[type, dict[str, Any]] = {
    FaultKind: ROW,
    Drilled: {"at": AIR, "effect": Effect.SILENCE, "words": "jammed", "also_all": False},
    OnBench: {"title": "Hangs", "hand": "firmware", "do": "Hang it.", "if_not": ""},
    NotOnBench: {"why": "too far"},
}
LACKS = [(shape, name) for shape, row in SHAPES.items() for name in row]


@pytest.mark.parametrize(("shape", "name"), LACKS)
def test_a_row_without_one_of_its_fields_cannot_be_made(shape: type, name: str) -> None:
    shape(**SHAPES[shape])
    with pytest.raises(TypeError, match=name):
        shape(**{key: value for key, value in SHAPES[shape].items() if key != name})


@pytest.mark.parametrize(
    ("changed", "text"),
    [
        ({"meaning": ""}, "a text is empty"),
        ({"caption": ""}, "a text is empty"),
        ({"law": ""}, "a text is empty"),
        ({"bench": NotOnBench(why="")}, "a text is empty"),
        ({"units": ()}, "needs at least one unit"),
        ({"units": ("vehicle",)}, "a unit that there is not"),
        ({"ends": None}, "lasts, and nothing ends it"),
        ({"is_lasting": False}, "does not last, and something ends it"),
        ({"impairs": ("mood",)}, "a part that there is not"),
        ({"units": (RECEIVER,)}, "is drilled where it cannot happen"),
        ({"drilled": ROW["drilled"] * 2}, "is drilled twice at one unit"),
        ({"impairs": ()}, "is drilled, and impairs nothing"),
        ({"ended_by": ()}, "is ended by 'watchdog', and does not say so"),
        (
            {"begins": lambda unit, at_ns: unit.explode(at_ns)},
            "does 'explode', which is not of FaultyUnit",
        ),
        ({"begins": lambda unit, at_ns: None}, "does nothing as it begins"),
        ({"begins": lambda unit, at_ns: unit.leave(at_ns)}, "'leave' to .* cannot .*: receiver"),
        ({"ends": lambda unit, at_ns: unit.reset(at_ns)}, "gives back other things than it takes"),
        ({"ends": lambda unit, at_ns: unit.power_on(at_ns)}, "gives back other things than"),
        (
            {"ends": lambda unit, at_ns: (unit.go_on(at_ns), unit.go_on(at_ns))},
            "takes one thing twice, or gives it back twice",
        ),
        (
            {"ends": lambda unit, at_ns: (unit.go_on(at_ns), unit.hang(at_ns))},
            "takes something as it ends",
        ),
        (
            {"begins": lambda unit, at_ns: (unit.hang(at_ns), unit.go_on(at_ns))},
            "gives something back as it begins",
        ),
    ],
)
def test_a_row_that_contradicts_itself_cannot_be_made(changed: dict[str, Any], text: str) -> None:
    with pytest.raises(ValueError, match=f"fault kind 'hang': .*{text}"):
        FaultKind(**ROW | changed)


UNITS = (TRANSMITTER, RECEIVER, AIR)
AT_TRANSMITTERS = {(TRANSMITTER,), (TRANSMITTER, AIR)}
ALLOWED = {"freeze_values": AT_TRANSMITTERS, "leave": AT_TRANSMITTERS, "jam": {(AIR,)}}
"""Units of a row that does so; of the air anything else is everybody's, or nothing."""


@pytest.mark.parametrize("taken", GIVEN_BACK_BY)
@pytest.mark.parametrize("count", [1, 2, 3])
def test_a_row_is_of_units_that_can_have_what_it_does(taken: str, count: int) -> None:
    def row(units: tuple[UnitKind, ...]) -> FaultKind:
        changed: dict[str, Any] = {
            "units": units,
            "drilled": (),
            "begins": lambda unit, at_ns: getattr(unit, taken)(at_ns),
            "ends": lambda unit, at_ns: getattr(unit, GIVEN_BACK_BY[taken])(at_ns),
            "ended_by": ("power_on", WATCHDOG),
        }
        return FaultKind(**ROW | changed)

    for units in combinations(UNITS, count):
        is_everybodys = AIR not in units or TRANSMITTER in units
        if units in ALLOWED[taken] if taken in ALLOWED else is_everybodys:
            assert row(units).units == units
        else:
            with pytest.raises(ValueError, match=f"does '{taken}' to a unit that cannot have it"):
                row(units)


def test_each_thing_that_can_be_done_to_a_unit_is_checked() -> None:
    done = {name for name in vars(FaultyUnit) if not name.startswith("_")}

    assert done == {*GIVEN_BACK_BY, *GIVEN_BACK_BY.values(), "power_on", "reset", "lose_settings"}


def test_a_kind_has_one_row() -> None:
    with pytest.raises(ValueError, match="fault kind 'hang': has two rows"):
        by_name((FAULT_KINDS["hang"], FAULT_KINDS["hang"]))


def test_the_schema_allows_the_kinds_of_the_register_and_no_other() -> None:
    allowed = json_schema()["$defs"]["Fault"]["properties"]["kind"]["enum"]

    assert set(allowed) == set(FAULT_KINDS)


def test_the_command_line_leaves_out_kinds_that_are_drilled_and_no_other(
    tmp_path: Path,
) -> None:
    path = tmp_path / "s.toml"
    path.write_text('radio.profile = "gfsk-1M"\ntransmitter.a = { period_ms = 20 }\n')
    done = typed("failsafe", path, "--skip", "fire")

    assert done.code == 2
    assert ", ".join(drilled_kinds()) in done.err


def test_the_rule_of_the_model_that_a_row_names_speaks_of_its_kind() -> None:
    text = (Path(radiosim.__file__).parent / "model.md").read_text("utf-8")
    for row in FAULT_KINDS.values():
        (rule,) = re.findall(rf"^- {row.law}\. (.*)$", text, flags=re.M)
        assert f"`{row.name}`" in rule


SCENARIO = """
duration_s = 4
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6, boot_s = 0.3 }
receiver.boot_s = 0.3
fault = [{ at_s = 2, kind = "%s", unit = "%s"%s }]
"""
EVERY = [(row.name, unit) for row in FAULT_KINDS.values() for unit in row.units]


@pytest.mark.parametrize(("kind", "unit"), EVERY)
def test_the_steps_of_a_fault_take_away_what_its_row_says(kind: str, unit: str) -> None:
    row = fault_kind(kind)
    name = "drive" if unit == TRANSMITTER else unit
    lasts = ", for_s = 1" if row.is_lasting else ""
    plan = make_plan(parse(SCENARIO % (kind, name, lasts)), 0)
    begun = [STEPS[step.kind] for step in plan.steps if step.at_ns == 2 * 10**9]

    assert {step.part for step in begun if not step.is_well} == set(row.impairs)
    assert kind in kinds_at(row.units[0])


def test_every_kind_of_step_that_takes_a_part_away_has_one_that_gives_it_back() -> None:
    taken = {step.part for step in STEPS if not step.is_well}

    assert taken == {step.part for step in STEPS if step.is_well and step.part is not None}
    assert taken == {part for row in FAULT_KINDS.values() for part in row.impairs}
