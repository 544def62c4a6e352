"""Figures by a receiver's own program are the model's where it does the same, and else its own."""

import dataclasses
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

from radiosim.errors import FirmwareError
from radiosim.firmware.standing import with_program, without_program
from radiosim.firmware.starter import starter
from radiosim.measure.by_program import record_of_start
from radiosim.measure.start import tally_start
from radiosim.scenario.assumed import program_lines
from radiosim.scenario.structs.receiver_table import Program
from radiosim.trace import Trace
from radiosim.units import NS_PER_US
from radiosim.vehicle.feedback import simulate
from radiosim.vehicle.fold.program_state import FAILSAFE, WRITTEN
from radiosim.vehicle.vehicle import run_vehicle
from tests.firmware.programs import needs_compiler
from tests.study.tune.scenarios import shipped

pytestmark = needs_compiler

FAULTS = (
    "fault=[{at_s=2.5, kind='power_off', unit='drive', for_s=1.0}, "
    "{at_s=4.5, kind='reset', unit='receiver'}]"
)


@cache
def start_of_model() -> Trace:
    return simulate(shipped("shared-timer", "failsafe.drive.fed_by=own", "duration_s=6.5", FAULTS))


def by_program(text: str, folder: Path, on: str = "host") -> Trace:
    source = folder / "rx.c"
    source.write_text(text, encoding="utf-8")
    trace = start_of_model()
    program = Program(sources=(str(source),), on=on)  # type: ignore[arg-type]
    receiver = replace(trace.scenario.receiver, program=program)
    return dataclasses.replace(trace, scenario=replace(trace.scenario, receiver=receiver))


def program() -> str:
    return starter(start_of_model().scenario)


def test_a_program_that_does_as_the_model_tells_outputs_the_same_to_the_ns(tmp_path: Path) -> None:
    found = record_of_start(by_program(program(), tmp_path))
    wanted = run_vehicle(start_of_model())

    for name, record in wanted.outputs.items():
        own = found.outputs[name].told
        assert (own["kind"] == WRITTEN).any()
        for kind in (WRITTEN, FAILSAFE):
            mine, model = own[own["kind"] == kind], record.told[record.told["kind"] == kind]
            # The program says first that failsafe is on, and then what it makes of it.
            instants, last = np.unique(mine["at_ns"][::-1], return_index=True)
            mine = mine[::-1][last]
            assert instants.tolist() == model["at_ns"].tolist()
            assert mine["frame"].tolist() == model["frame"].tolist()
            assert (np.abs(mine["level"] - model["level"]) <= NS_PER_US / 2).all()


def test_and_has_its_figures(tmp_path: Path) -> None:
    found, wanted = tally_start(by_program(program(), tmp_path)), tally_start(start_of_model())

    for name, stream in wanted.streams.items():
        assert found.streams[name].failsafe == stream.failsafe
    for name, output in wanted.outputs.items():
        assert found.outputs[name].fresh == output.fresh
        latency, model = found.outputs[name].latency, output.latency
        assert abs(latency.highest_ns - model.highest_ns) <= NS_PER_US / 2
    fates = [
        [{name: one.fate for name, one in fault.outputs.items()} for fault in tally.faults]
        for tally in (found, wanted)
    ]
    assert fates[0] == fates[1]


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("void rx_pass(void)\n{", "void rx_pass(void)\n{ __builtin_trap();", r"it crashed .*rx\.c"),
        ("while (rx_take", "if (rx_take", r"it does not read a frame of \w+ when"),
        ("rx_failsafe(", "(void)(", r"it never tells of failsafe of \w+, so"),
        (
            "tx_drive.is_on_failsafe || rx_us()",
            "1 || rx_us()",
            r"in start 0, at 2\.\d+ s, (motor|steering) is other than predicted, for \d",
        ),
        (
            "rx_pulse(LINK_OUT_MOTOR",
            "(void)(LINK_OUT_MOTOR",
            r"in start 0, at 1\.\d+ s, motor is other than predicted, for \d",
        ),
    ],
    ids=["crashes", "reads elsewhere", "says nothing of failsafe", "no failsafe", "no pulses"],
)
def test_one_without_figures_is_refused(old: str, new: str, why: str, tmp_path: Path) -> None:
    trace = by_program(program().replace(old, new), tmp_path)

    with pytest.raises(FirmwareError, match=f"^receiver.program: .*{why}"):
        tally_start(trace)


def test_a_scenario_says_whose_figures_it_has(tmp_path: Path) -> None:
    scenario = by_program(program(), tmp_path).scenario

    (said,) = program_lines(with_program(with_program(scenario)).assumed)
    model = without_program(with_program(scenario))

    assert "the receiver program rx.c, settings " in said
    assert "on the host" in said
    assert model.receiver.program is None
    assert model.assumed[0].startswith("receiver.program: not run here")
    assert not program_lines(model.assumed)


def test_a_chip_has_no_figures(tmp_path: Path) -> None:
    with pytest.raises(FirmwareError, match=r"receiver\.program\.on: a chip is tried by"):
        with_program(by_program("", tmp_path, on="chip").scenario)
