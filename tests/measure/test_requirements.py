"""Whether requirements hold, in the worst start."""

import math
from collections.abc import Mapping

import pytest

from radiosim.measure.requirements import BEATS_TO_HAVE_SEEN, judge, worst_of
from radiosim.measure.summary import RequirementFigures
from radiosim.measure.tally import Extreme
from tests.traces import scenario_with

HOLE = "stream.drive.gap_ms.max"
RATE = "stream.drive.update_rate_hz"


def extremes_of(starts: Mapping[int, Mapping[str, float]]) -> dict[str, Extreme]:
    """Lowest and highest of each figure; `starts`: start → path → value."""
    found: dict[str, Extreme] = {}
    for start, figures in starts.items():
        for path, value in figures.items():
            one = Extreme(low=value, low_start=start, high=value, high_start=start, n=1)
            found[path] = found[path] + one if path in found else one
    return found


def judged(
    limit: str, *values: float | None, figure: str = HOLE, beats: float = math.inf
) -> RequirementFigures:
    """One requirement against one value a start; None: the start had nothing to measure."""
    scenario = scenario_with(f"requirement=[{{figure='{figure}', {limit}}}]")
    starts = {k: {} if value is None else {figure: value} for k, value in enumerate(values)}
    return judge(scenario, extremes_of(starts), len(values), beats)[0]


def test_a_ceiling_is_judged_by_the_highest_start() -> None:
    found = judged("at_most=200", 150.0, 201.0, 90.0)

    assert (found.measured, found.ok) == (201.0, False)
    assert (found.at_least, found.at_most) == (None, 200)


def test_a_floor_is_judged_by_the_lowest_start() -> None:
    found = judged("at_least=40", 45.0, 39.9, 50.0, figure=RATE)

    assert (found.measured, found.ok) == (39.9, False)


@pytest.mark.parametrize(("limit", "figure"), [("at_most=200", HOLE), ("at_least=200", RATE)])
def test_the_limit_itself_holds(limit: str, figure: str) -> None:
    assert judged(limit, 200.0, figure=figure).ok is True


def test_a_start_that_had_nothing_to_measure_is_no_pass() -> None:
    found = judged("at_most=200", 150.0, None, None)

    assert (found.ok, found.measured) == (None, None)
    assert found.why == "2 of 3 starts had nothing to measure"


def test_stopping_times_are_not_judged_here() -> None:
    found = judged("at_most=500", 1.0, figure="worst.drive.reaction_ms")

    assert found.ok is None
    assert found.why == "radiosim failsafe judges stopping times, by drilling faults"


def test_a_run_too_short_to_have_seen_a_meeting_passes_nothing() -> None:
    found = judged("at_most=200", 150.0, beats=BEATS_TO_HAVE_SEEN - 0.01)

    assert found.ok is None
    assert found.measured == 150.0
    assert found.why.startswith(
        "too short: the transmitters' clocks drift into each other about 3 times"
    )


def test_a_run_that_saw_enough_meetings_may_pass() -> None:
    assert judged("at_most=200", 150.0, beats=BEATS_TO_HAVE_SEEN).ok is True


def test_what_failed_has_failed_however_short_the_run() -> None:
    assert judged("at_most=200", 250.0, beats=0.0).ok is False


def test_a_nan_never_holds() -> None:
    assert judged("at_most=200", math.nan).ok is False
    assert judged("at_least=200", math.nan).ok is False


def test_requirements_keep_the_order_of_the_file() -> None:
    scenario = scenario_with(
        f"requirement=[{{figure='{RATE}', at_least=1}}, {{figure='{HOLE}', at_most=2}}]"
    )

    found = judge(scenario, extremes_of({0: {RATE: 1.0, HOLE: 3.0}}), 1, math.inf)

    assert [(requirement.figure, requirement.ok) for requirement in found] == [
        (RATE, True),
        (HOLE, False),
    ]


def test_the_worst_start_is_the_lowest_rate_and_the_longest_hole() -> None:
    worst = worst_of(
        extremes_of(
            {
                4: {HOLE: 100.0, RATE: 49.0, "stream.drive.gap_ms.p99": 30.0},
                5: {HOLE: 300.0, RATE: 41.0, "stream.drive.gap_ms.p99": 25.0},
            }
        )
    )

    assert {path: (found.value, found.start) for path, found in worst.items()} == {
        HOLE: (300.0, 5),
        RATE: (41.0, 5),
        "stream.drive.gap_ms.p99": (30.0, 4),
    }


def test_a_figure_without_a_bad_direction_has_no_worst_start() -> None:
    figures = {"output.track.refresh_hz": 50.0}

    assert worst_of(extremes_of({0: figures, 1: figures})) == {}


def test_a_figure_that_some_starts_lack_has_a_worst_among_the_others() -> None:
    assert worst_of(extremes_of({0: {}, 7: {HOLE: 3.0}}))[HOLE].start == 7
