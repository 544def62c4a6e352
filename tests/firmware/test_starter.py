"""The program that is written for a scenario does what its model does."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import assume, given
from msgspec.structs import replace

from radiosim.errors import FirmwareError
from radiosim.firmware.emulator import lacking
from radiosim.firmware.rungs import CORE, HOST
from radiosim.firmware.starter import starter
from radiosim.firmware.tried import check_served
from radiosim.scenario import Scenario
from tests.engines.random_scenarios import scenarios
from tests.examples import examples
from tests.firmware.equality import agreed, countable, in_percent, shipped_names, writable
from tests.firmware.programs import needs_compiler
from tests.firmware.test_tried import results
from tests.study.tune.scenarios import shipped

FAULTS = (
    "fault=[{at_s=2.5, kind='power_off', unit='drive', for_s=1.0}, "
    "{at_s=4.5, kind='reset', unit='receiver'}]"
)


MOVES = "transmitter.helm.signals.engine={ kind = 'sine', period_s = 2 }"


def text_of(given: Scenario) -> str:
    try:
        check_served(given)
        return starter(given)
    except FirmwareError:
        assume(False)
        raise


@needs_compiler
@pytest.mark.parametrize(
    "given",
    [
        ("slow-loop",),
        ("club-meet", "receiver.clock_tick_ms=37.3", "receiver.clock_ppm=-900"),
        ("harbour-tug", "output.rudder.smoothing_us_per_pass=3.5", MOVES),
    ],
    ids=["passes of its own length", "a clock that goes in steps", "levels and ramps"],
)
def test_it_holds_on_a_scenario_that_ships(given: tuple[str, ...], tmp_path: Path) -> None:
    faults = FAULTS.replace("drive", "helm") if given[0] == "harbour-tug" else FAULTS
    scenario = in_percent(shipped(*given, "duration_s=6", faults))
    source = tmp_path / "rx.c"
    source.write_text(starter(scenario), encoding="utf-8")

    found = results(source, scenario, starts=1)

    assert found.verdict == "HELD", found
    assert found.reads_as_predicted == found.frames > 0
    assert not found.notes
    assert all(one.changes for one in found.failsafe)
    assert all(one.moves for one in found.outputs)
    if scenario.receiver.clock_tick_ms:
        assert not any(one.short_spans for one in (*found.outputs, *found.failsafe))


@pytest.mark.slow
@needs_compiler
@pytest.mark.parametrize("name", shipped_names())
def test_it_agrees_to_the_nanosecond_with_the_model_of_each_that_ships(name: str) -> None:
    scenario = countable(shipped(name, "duration_s=30"))
    rung = CORE if lacking() is None else HOST

    found = agreed(scenario, rung, starts=1)

    assert found.is_equal, found
    assert found.frames > 100
    assert found.changes > 0


@pytest.mark.slow
@needs_compiler
@given(scenarios)
@examples(100)
def test_it_holds_on_scenarios_drawn_at_random(given: Scenario) -> None:
    scenario = writable(given)
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "rx.c"
        source.write_text(text_of(scenario), encoding="utf-8")

        found = results(source, scenario, starts=1)

    assert found.verdict == "HELD", found
    assert found.reads_as_predicted == found.frames
    if scenario.receiver.clock_tick_ms:
        # It counts as the model does, and so parts from it nowhere, not for a nanosecond.
        assert not any(one.short_spans for one in (*found.outputs, *found.failsafe))


def test_a_step_that_no_program_can_count_is_refused() -> None:
    scenario = shipped("club-meet", "receiver.clock_tick_ms=0.0333")
    with pytest.raises(FirmwareError, match=r"clock_tick_ms: .* got 0\.0333; set it to 0\.033"):
        starter(scenario)


@needs_compiler
def test_a_program_that_reads_by_interrupt_holds_too(tmp_path: Path) -> None:
    scenario = shipped("club-meet", "duration_s=6", FAULTS, "receiver.read=all")
    # Nothing interrupts a pass here: what both share needs no guard.
    boot, passes = starter(scenario).split("void rx_pass(void)\n{")
    reads, rest = passes.split("        take(pipe, bytes);\n")
    text = f"{boot}void rx_interrupt(void)\n{{{reads}        take(pipe, bytes);\n}}\n"
    source = tmp_path / "rx.c"
    source.write_text(f"{text}void rx_pass(void)\n{{\n{rest}", encoding="utf-8")
    failsafe = {name: replace(one, fed_at="arrival") for name, one in scenario.failsafe.items()}
    receiver = replace(scenario.receiver, interrupt=True)

    found = results(source, replace(scenario, receiver=receiver, failsafe=failsafe), starts=1)

    assert found.verdict == "HELD", found
    assert found.reads_as_predicted == found.frames > 0
    assert all(one.changes for one in found.failsafe)


def test_no_program_is_written_that_reads_by_interrupt() -> None:
    with pytest.raises(FirmwareError, match=r"receiver\.interrupt: no program is written"):
        starter(shipped("club-meet", "receiver.interrupt=true"))


def test_a_failsafe_value_that_nobody_has_said_is_not_made_up() -> None:
    with pytest.raises(FirmwareError, match=r"output\.drive\.on_failsafe: nobody has said it"):
        starter(shipped("smallest"))
