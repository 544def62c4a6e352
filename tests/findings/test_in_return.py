"""What cures make worse: fine all the same, paid for by who gains, or harm that none may do."""

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from radiosim.findings.costs import costs, shown_paths
from radiosim.findings.in_return import SPENT, harmed, in_return
from radiosim.measure.summary import Summary, Worst
from radiosim.study.starts import simulate_starts
from tests.examples import examples
from tests.findings.cases import scenario_with

SCENARIO = scenario_with("starts=1", "duration_s=3")
RUN = simulate_starts(SCENARIO, workers=1)
PATHS = tuple(shown_paths(RUN))
FINE = {
    # Half of 250 and of 300 ms.
    "stream.drive.gap_ms.p99": 125,
    "stream.head.gap_ms.max": 150,
    # Two periods of 20 and of 23 ms.
    "stream.drive.latency_ms.p99": 40,
    "stream.head.latency_ms.median": 46,
    "output.motor.latency_ms.p99": 125,
    "output.pan.age_ms.max": 300,
}


def with_worst(path: str, value: float) -> Summary:
    found = Worst(value=value, start=0)
    return msgspec.structs.replace(RUN, worst={**RUN.worst, path: found})


def with_longer_gap(run: Summary, stream: str, gap_ms: float) -> Summary:
    of = run.figures.stream[stream]
    of = msgspec.structs.replace(of, gap_ms=msgspec.structs.replace(of.gap_ms, max=gap_ms))
    figures = msgspec.structs.replace(run.figures, stream={**run.figures.stream, stream: of})
    return msgspec.structs.replace(run, figures=figures)


@given(st.sampled_from(sorted(FINE)), st.floats(0.5, 2))
@examples(100)
def test_what_stays_fine_is_no_harm_and_what_does_not_is(path: str, of_limit: float) -> None:
    before, after = with_worst(path, 0.1), with_worst(path, FINE[path] * of_limit)
    expected = [path] if of_limit > 1 else []

    assert list(in_return(SCENARIO, SCENARIO, before, after)) == expected
    assert list(harmed(SCENARIO, SCENARIO, before, after)) == expected


@given(st.sampled_from(PATHS), st.floats(0.01, 1000), st.floats(0.01, 1000))
@examples(200)
def test_harm_is_worse_and_not_fine_and_nothing_spent(path: str, was: float, now: float) -> None:
    before, after = with_worst(path, was), with_worst(path, now)
    told = set(in_return(SCENARIO, SCENARIO, before, after))

    assert told <= set(costs(before, after))
    assert not any(figure.endswith(SPENT) for figure in told)
    assert set(harmed(SCENARIO, SCENARIO, before, after)) <= told


def test_a_stream_pays_for_what_it_gains_and_for_no_other() -> None:
    path = "stream.drive.latency_ms.p99"
    before, after = with_worst(path, 10.0), with_worst(path, 90.0)
    for stream, pays in (("drive", True), ("head", False)):
        was = with_longer_gap(before, stream, 2000.0)
        assert list(in_return(SCENARIO, SCENARIO, was, after)) == [path]
        assert list(harmed(SCENARIO, SCENARIO, was, after)) == ([] if pays else [path])


def test_a_requirement_says_what_is_fine() -> None:
    path = "stream.drive.gap_ms.p99"
    before, after = with_worst(path, 10.0), with_worst(path, 60.0)
    asked = scenario_with(f"requirement=[{{figure='{path}', at_most=50}}]")

    assert list(in_return(SCENARIO, SCENARIO, before, after)) == []
    assert list(in_return(asked, asked, before, after)) == [path]


def test_a_period_that_a_cure_makes_longer_is_the_one_that_counts() -> None:
    path = "stream.drive.latency_ms.p99"
    before, after = with_worst(path, 10.0), with_worst(path, 55.0)
    slower = scenario_with("transmitter.drive.period_ms=30")

    assert list(in_return(SCENARIO, SCENARIO, before, after)) == [path]
    assert list(in_return(SCENARIO, slower, before, after)) == []
