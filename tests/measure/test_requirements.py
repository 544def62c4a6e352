"""Whether requirements hold, in the worst start."""

import math
from collections.abc import Mapping

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import chi2, poisson

from radiosim.measure.intervals import hours_to_tell, rate_over_starts
from radiosim.measure.requirements import BEATS_TO_HAVE_SEEN, Rate, judge, rate_verdict, worst_of
from radiosim.measure.summary import RequirementFigures
from radiosim.measure.tally import Extreme
from radiosim.scenario.structs.failsafe_and_fault import Requirement
from tests.examples import examples
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
    return judge(scenario, extremes_of(starts), len(values), beats, {})[0]


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
        "too short: two clocks of the link drift into each other about 3 times"
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

    found = judge(scenario, extremes_of({0: {RATE: 1.0, HOLE: 3.0}}), 1, math.inf, {})

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


TRIPS = "stream.drive.failsafe.nuisance_per_hour"


def seen(count: int, hours: float) -> Rate:
    """Events counted in one stretch of time."""
    return count / hours, rate_over_starts([count], [hours], [1.0])


def verdict(count: int, hours: float, at_most: float) -> bool | None:
    asked = Requirement(figure=TRIPS, at_most=at_most)
    return rate_verdict(seen(count, hours), asked, hours)[0]


def test_nothing_seen_in_minutes_is_no_evidence_for_few_an_hour() -> None:
    asked = scenario_with(f"requirement=[{{figure='{TRIPS}', at_most=1}}]")
    worst = extremes_of({0: {TRIPS: 0.0}})

    found = judge(asked, worst, 1, math.inf, {TRIPS: seen(0, 4 / 60)})[0]

    assert (found.measured, found.ok) == (0.0, None)
    assert found.why == "between 0 and 55.3 an hour (95 % sure): about 3.7 h would tell"
    assert judge(asked, worst, 1, math.inf, {TRIPS: seen(0, 3.7)})[0].ok is True


def test_no_rate_passes_before_the_clocks_beat_however_many_hours_there_are() -> None:
    asked = scenario_with(f"requirement=[{{figure='{TRIPS}', at_most=1}}]")
    worst, rates = extremes_of({0: {TRIPS: 0.0}}), {TRIPS: seen(0, 100)}

    assert judge(asked, worst, 1, BEATS_TO_HAVE_SEEN, rates)[0].ok is True
    unseen = judge(asked, worst, 1, BEATS_TO_HAVE_SEEN - 0.01, rates)[0]
    assert unseen.ok is None
    assert unseen.why.startswith("too short")


@pytest.mark.parametrize(
    ("interval", "at_most", "at_least"),
    [
        ((0.2, 0.9), True, False),
        ((0.2, 1.0), True, None),
        ((0.2, 1.1), None, None),
        ((1.0, 1.0), True, True),
        ((1.0, 1.1), None, True),
        ((1.1, 1.2), False, True),
    ],
)
def test_a_rate_is_judged_where_its_whole_interval_is_on_one_side(
    interval: tuple[float, float], at_most: bool | None, at_least: bool | None
) -> None:
    """The limit is 1 an hour, and holds itself."""
    rate = (sum(interval) / 2, interval)

    assert rate_verdict(rate, Requirement(figure=TRIPS, at_most=1.0), 1.0)[0] is at_most
    assert rate_verdict(rate, Requirement(figure=TRIPS, at_least=1.0), 1.0)[0] is at_least


@given(limit=st.floats(0.01, 100.0), asked=st.floats(0.001, 100.0), over=st.floats(1.0, 5.0))
@examples(50)
def test_a_rate_over_its_limit_passes_in_at_most_one_run_of_forty(
    limit: float, asked: float, over: float
) -> None:
    """Exactly, over every count that can come (scipy's Poisson): whatever the duration."""
    hours = asked / limit
    mean = asked * over
    most = next((k for k in range(int(mean) + 2) if verdict(k, hours, limit) is not True), 0)

    # Counts from `most` on do not pass, as the interval rises with the count.
    assert poisson.cdf(most - 1, mean) <= 0.025 + 1e-9


@given(
    count=st.integers(0, 200),
    hours=st.floats(0.01, 100.0),
    limit=st.floats(0.01, 100.0),
    times=st.integers(2, 20),
)
@examples(100)
def test_what_a_short_run_tells_a_longer_one_at_the_same_rate_tells_too(
    count: int, hours: float, limit: float, times: int
) -> None:
    short = verdict(count, hours, limit)
    assume(short is not None)

    assert verdict(times * count, times * hours, limit) is short


@given(limit=st.floats(0.01, 100.0))
@examples(50)
def test_the_hours_said_tell(limit: float) -> None:
    needed = hours_to_tell(0.0, limit)

    assert needed is not None
    assert verdict(0, needed, limit) is True
    assert verdict(0, 0.99 * needed, limit) is None


@given(count=st.integers(1, 50), factor=st.floats(0.2, 5.0))
@examples(50)
def test_with_events_the_hours_said_are_those_at_which_the_interval_leaves_the_limit(
    count: int, factor: float
) -> None:
    """Both ends of Garwood's interval from scipy's chi-square, at the count that is expected."""
    assume(abs(factor - 1) > 0.1)
    limit = factor * count
    needed = hours_to_tell(float(count), limit)

    assert needed is not None
    mean = count * needed
    low, high = chi2.ppf(0.025, 2 * mean) / 2, chi2.ppf(0.975, 2 * mean + 2) / 2
    nearest = high if factor > 1 else low
    assert nearest == pytest.approx(limit * needed, rel=2e-3)


def _hours_in(why: str) -> float:
    """As printed: two figures."""
    return float(why.split("about ")[1].split(" h", maxsplit=1)[0])


@given(
    counts=st.lists(st.integers(0, 20), min_size=3, max_size=20),
    hours=st.floats(0.01, 10.0),
    limit=st.floats(0.01, 100.0),
)
@examples(100)
def test_no_fewer_hours_are_said_to_tell_than_were_run_and_did_not(
    counts: list[int], hours: float, limit: float
) -> None:
    """Bursts: a start each, so that the spread between starts is wider than Poisson's."""
    spans = [hours / len(counts)] * len(counts)
    interval = rate_over_starts(counts, spans, [1.0] * len(counts))
    ok, why = rate_verdict(
        (sum(counts) / hours, interval), Requirement(figure=TRIPS, at_most=limit), hours
    )
    assume(ok is None and "would tell" in why)

    needed = _hours_in(why)
    assert needed >= 0.95 * hours
    assert needed >= 0.95 * (hours_to_tell(sum(counts) / hours, limit) or 0.0)


@given(limit=st.floats(0.01, 100.0), hours=st.floats(0.001, 3.0))
@examples(100)
def test_events_by_themselves_take_what_garwoods_interval_takes(limit: float, hours: float) -> None:
    interval = rate_over_starts([0], [hours], [1.0])
    ok, why = rate_verdict((0.0, interval), Requirement(figure=TRIPS, at_most=limit), hours)
    assume(ok is None)

    assert _hours_in(why) == pytest.approx(3.6889 / limit, rel=0.06)


def test_a_rate_at_its_limit_is_never_told() -> None:
    assert hours_to_tell(2.0, 2.0) is None


def test_the_hours_without_an_event_are_those_of_garwoods_table() -> None:
    """Garwood (1936), 95 %, none seen: upper limit 3.689 (from memory; 3.69 in common tables)."""
    assert hours_to_tell(0.0, 1.0) == pytest.approx(3.689, abs=0.005)
