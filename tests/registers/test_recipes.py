"""The recipes of DEVELOPERS.md, carried out: a figure and a kind of fault made here, each one row,
are simulated, pooled, drilled, printed and written on the bench test sheet."""

from collections.abc import Iterator

import msgspec
import pytest
from msgspec.structs import replace

from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import Engine, simulate
from radiosim.measure import figures as measured_figures
from radiosim.measure import summarise
from radiosim.measure.figures import check_row, flat, rows_of
from radiosim.measure.start import tally_start
from radiosim.measure.summarise import summary_of
from radiosim.measure.summary import Interval, StreamFigures
from radiosim.registers.fault_kind import (
    PROGRAM,
    RADIO,
    RECEIVER,
    TRANSMITTER,
    Drilled,
    Effect,
    FaultKind,
    OnBench,
)
from radiosim.registers.fault_register import FAULT_KINDS
from radiosim.registers.figure import HIGH, Figure, Lowest, Ratio, Ruled
from radiosim.registers.figure_register import FIGURES, figure_paths, figures_in
from radiosim.report.glossary import found, told
from radiosim.results.document import Origin
from radiosim.results.terminal import plain_text
from radiosim.scenario import Scenario, parse
from radiosim.scenario.structs.failsafe_and_fault import Fault, Requirement
from radiosim.study.bench.fault_steps import bench_work, fault_chapter
from radiosim.study.drill.drill import DrillOptions, drill_failsafe
from radiosim.study.drill.work import DRILLS, OfStart, Part

SCENARIO = """
duration_s = 20
radio.profile = "gfsk-1M"
air.loss = 0.2
[transmitter.drive]
period_ms = 20
payload_bytes = 6
boot_s = 0.2
[receiver]
read = "all"
boot_s = 0.2
[failsafe.drive]
timeout_ms = 250
[output.motor]
stream = "drive"
field = "value"
on_failsafe = { preset_us = 1500 }
"""

SHARE_LOST = Figure(
    table="stream",
    name="attempts_lost_ratio",
    unit="0 to 1",
    pool=Ratio(of="lost_chance", per="attempts", interval="ratio"),
    worse=HIGH,
    meaning="share of the attempts that were lost by chance",
    measure="one transmitter alone: failed attempts over all",
)


class WithShareLost(StreamFigures, frozen=True, kw_only=True):
    """The struct with the new figure's field."""

    attempts_lost_ratio: float | None
    attempts_lost_ratio_ci95: Interval = msgspec.UNSET


@pytest.fixture
def share_lost() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patched:
        patched.setitem(FIGURES, SHARE_LOST.key, SHARE_LOST)
        patched.setitem(measured_figures.STRUCTS, "stream", WithShareLost)
        check_row(SHARE_LOST)
        _forget_rows()
        yield
    _forget_rows()


def _forget_rows() -> None:
    for kept in (figures_in, rows_of):
        kept.cache_clear()


@pytest.mark.usefixtures("share_lost")
def test_a_figure_is_one_row_and_its_field() -> None:
    given = replace(parse(SCENARIO), starts=3)
    tallies = [tally_start(simulate(given, start=k)) for k in range(3)]
    summary = summary_of(given, tallies)
    path = "stream.drive.attempts_lost_ratio"
    ratios = [t.streams["drive"].lost_chance / t.streams["drive"].attempts for t in tallies]
    asked = Requirement(figure=path, at_most=0.01)
    (judged,) = summary_of(replace(given, requirement=(asked,)), tallies).requirements

    assert flat(summary.figures)[path] == pytest.approx(0.2, abs=0.03)
    assert min(ratios) < flat(summary.figures)[path] < max(ratios)
    assert summary.worst[path].value == pytest.approx(max(ratios))
    assert path in figure_paths(given.transmitter, given.output)
    assert (judged.measured, judged.ok) == (pytest.approx(max(ratios)), False)
    in_json = msgspec.json.decode(msgspec.json.encode(summary.figures.stream["drive"]))
    low, high = in_json["attempts_lost_ratio_ci95"]
    assert low < in_json["attempts_lost_ratio"] < high
    assert "share of the attempts" in told(found(path))


def test_a_figure_without_its_field_its_tally_or_its_rule_does_not_import() -> None:
    with pytest.raises(ValueError, match="StreamFigures has no field 'attempts_lost_ratio'"):
        check_row(SHARE_LOST)
    duty = FIGURES["stream.duty_cycle"]
    unknown = msgspec.structs.replace(duty, pool=Ratio(of="wishes", per="sent", interval="none"))
    with pytest.raises(ValueError, match="StreamTally has no 'wishes'"):
        check_row(unknown)
    ruled = msgspec.structs.replace(duty, pool=Ruled(is_of_one_start=True))
    with pytest.raises(ValueError, match="has no rule in RULES"):
        check_row(ruled)
    lowest = msgspec.structs.replace(duty, pool=Lowest(of="sent"))
    with pytest.raises(ValueError, match="not pooled as the row says"):
        check_row(lowest)


DIP = FaultKind(
    name="dip",
    meaning="the supply of the unit dips: its program starts again, its radio loses its settings",
    standard="",
    units=(TRANSMITTER, RECEIVER),
    is_lasting=True,
    begins=lambda unit, at_ns: unit.power_off(at_ns),
    ends=lambda unit, at_ns: unit.restore_power(at_ns),
    impairs=(PROGRAM, RADIO),
    restarts=True,
    ended_by=("power_on",),
    over="the end of the dip",
    drilled=(
        Drilled(at=TRANSMITTER, effect=Effect.SILENCE, words="supply dips", also_all=False),
        Drilled(at=RECEIVER, effect=Effect.NO_PULSES, words="supply dips", also_all=False),
    ),
    caption="the supply of {unit} dips",
    bench=OnBench(
        title="Supply dips", hand="supply", do="Pull its plug and put it back.", if_not=""
    ),
    law="E3",
)


@pytest.fixture
def dip(monkeypatch: pytest.MonkeyPatch) -> Scenario:
    monkeypatch.setitem(FAULT_KINDS, "dip", DIP)
    return parse(SCENARIO)


@pytest.mark.parametrize("engine", ["fast", "reference"])
def test_a_kind_of_fault_is_one_row_and_is_simulated_by_both_engines(
    dip: Scenario, engine: Engine
) -> None:
    fault = Fault(at_s=8, kind="dip", unit="drive", for_s=2)
    figures = summarise(simulate(replace(dip, fault=(fault,)), engine=engine)).figures
    timer, (struck,) = figures.stream["drive"].failsafe, figures.faults

    assert timer is not None
    assert (timer.trips_on_fault, timer.nuisance_trips) == (1, 0)
    assert struck.kind == "dip"
    assert struck.over_ms == 2000
    assert 200 < (struck.reaction_ms or 0) < 300
    assert struck.recovered_ms is not None
    assert make_plan(replace(dip, fault=(fault,)), 0).steps


def test_a_kind_of_fault_is_drilled_and_printed(dip: Scenario) -> None:
    from radiosim.report.drill import drill_report

    others = tuple(name for name in FAULT_KINDS if name != "dip")
    options = DrillOptions(repeats=8, skip=others, hours=0.02, workers=1)
    drilled = drill_failsafe(dip, options)
    text = plain_text(drill_report(drilled, Origin(command="radiosim failsafe", version="1")))

    assert {drill.unit for drill in drilled.drills} == {"drive", "receiver"}
    assert all(drill.verdict == "holds" for drill in drilled.drills)
    assert "dip drive" in " ".join(text.split())


def test_a_kind_of_fault_stands_on_the_bench_test_sheet(dip: Scenario) -> None:
    work = bench_work(dip, 4, "auto")
    rows = [work.row_of(Part(of=DRILLS, start=start)) for start in range(4)]
    chapter = fault_chapter(work, [msgspec.convert(row, OfStart) for row in rows])
    (step,) = [step for step in chapter.steps if step.key == "dip"]

    assert (step.title, step.do) == ("Supply dips", "Pull its plug and put it back.")
    assert step.measure == "Back: from the end of the dip."
    assert [case.title for case in step.cases] == ["drive", "receiver"]
    assert any(predicted.aspect == "reaction" for predicted in step.cases[0].predicted)
    assert [s.key for s in chapter.steps].index("dip") < [s.key for s in chapter.steps].index(
        "reset"
    )
