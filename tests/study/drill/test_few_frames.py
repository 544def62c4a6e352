"""Frames that come over a few at a time: too few in a row to end failsafe (rule F3)."""

from typing import Any

import pytest

from radiosim.engine.plan import make_plan
from radiosim.registers.fault_kind import Effect
from radiosim.scenario import Scenario, parse
from radiosim.study.drill.drill_kinds import Drill, drills_of, few_frames_s, limit_of
from radiosim.study.drill.judged import figures_of
from radiosim.study.drill.observed import Fate, Point, course_of, observed
from radiosim.study.drill.points import RETURNS, phased, rhythm_of, struck
from radiosim.vehicle.fold import program_passes
from radiosim.vehicle.fold.program_state import is_read

SCENARIO = """
radio.profile = "gfsk-1M"
air.loss = 0
transmitter.drive = { period_ms = 80, payload_bytes = 4, clock_ppm = 0, boot_s = 0.1 }
receiver = { boot_s = 0.1 }
failsafe.drive = { timeout_ms = 200, resume_frames = 3 }
output.motor = { stream = "drive", field = "value", kind = "pwm", on_failsafe = "off" }
"""


def scenario_with(*overrides: str) -> Scenario:
    return parse(SCENARIO, overrides=overrides)


def few_drills(scenario: Scenario) -> tuple[Drill, ...]:
    return tuple(drill for drill in drills_of(scenario) if drill.effect is Effect.FEW)


def points_of(scenario: Scenario) -> tuple[Drill, tuple[Point, ...]]:
    """The drill with a few frames at a time, two faults of it in one start."""
    (drill,) = few_drills(scenario)
    faulty, strikes = struck(phased(scenario, 0), drill, rhythm_of(scenario, 2), 0, 1)
    course = course_of(faulty, 0, "reference")
    due_ns = limit_of(scenario, drill, "motor").bound.total_ns
    return drill, observed(course, drill, strikes, {"motor": due_ns})["motor"]


def counts_on(timer: Any, stream: int, now: int, watched: float) -> bool:
    """The slip: frames before a gap count too."""
    timer.counted_ns = now
    return is_read(timer, stream, now, watched)


def test_it_is_drilled_where_more_than_one_frame_ends_failsafe() -> None:
    assert [drill.unit for drill in few_drills(scenario_with())] == ["drive"]
    assert few_drills(scenario_with("failsafe.drive.resume_frames=1")) == ()
    # Jitter of most of a period can bring two frames into any span.
    late = ("failsafe.drive.resume_frames=2", "transmitter.drive.jitter_ms=70")
    assert few_drills(scenario_with(*late)) == ()


def test_dither_shortens_each_of_the_periods_that_a_span_may_hold() -> None:
    dithered = scenario_with("transmitter.drive.dither_ms=30", "failsafe.drive.resume_frames=4")

    # Three of 80 - 30 ms, less a quarter of one.
    assert few_frames_s(dithered, "drive") == pytest.approx(2.75 * 0.05, rel=1e-3)


@pytest.mark.parametrize(("ppm", "needed"), [(0, 3), (-20_000, 9), (20_000, 2), (500, 5)])
def test_no_span_takes_in_the_frames_that_end_failsafe(ppm: float, needed: int) -> None:
    scenario = scenario_with(
        f"transmitter.drive.clock_ppm={ppm}", f"failsafe.drive.resume_frames={needed}"
    )
    few_s, period_s = few_frames_s(scenario, "drive"), 0.08 * (1 + ppm / 1e6)

    # N frames span N − 1 periods.
    assert (needed - 2) * period_s < few_s < (needed - 1) * period_s


def test_all_that_come_over_are_more_than_end_failsafe_if_they_are_counted_on() -> None:
    scenario = scenario_with()
    (drill,) = few_drills(scenario)
    faulty, strikes = struck(phased(scenario, 0), drill, rhythm_of(scenario, 1), 0, 1)
    spans_s = [(b - a) / 1e9 for a, b in strikes[0].returns]

    assert len(spans_s) == RETURNS
    assert spans_s == pytest.approx([1.75 * 0.08] * RETURNS)
    assert len(faulty.fault) == RETURNS + 1
    assert all(fault.for_s > 0.2 for fault in faulty.fault if fault.for_s)
    assert make_plan(faulty, 0).until_ns > strikes[0].until_ns


def test_a_program_that_counts_afresh_after_a_gap_holds() -> None:
    scenario = scenario_with()
    drill, points = points_of(scenario)
    figures = figures_of(scenario, drill, "motor", limit_of(scenario, drill, "motor"), points)

    assert [point.fate for point in points] == [Fate.STOPPED] * 2
    assert (figures.verdict, figures.still_driven) == ("holds", False)
    assert all(point.recovered_ns >= 0 for point in points)


def test_a_program_that_counts_on_over_a_gap_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(program_passes, "is_read", counts_on)
    scenario = scenario_with()
    drill, points = points_of(scenario)
    figures = figures_of(scenario, drill, "motor", limit_of(scenario, drill, "motor"), points)

    assert [point.fate for point in points] == [Fate.REVIVED] * 2
    assert figures.verdict == "fails"
    assert "before 3 frames in a row (failsafe.drive.resume_frames)" in figures.why
