"""A title never says more than its figure: every claim is worked out again, row by row."""

import re
import statistics
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan, plan_of
from radiosim.engine.simulate import simulate
from radiosim.engine.unit_spans import first_boot_ns
from radiosim.measure import summarise
from radiosim.report.figures import beats, gaps, latency, pointing
from radiosim.report.figures.of_run import (
    STANDS_OUT,
    figures_of_run,
    impaired,
    longest_gap,
    unexplained_gap,
)
from radiosim.report.figures.strip_paint import LOST
from radiosim.results.document import Figure
from radiosim.results.formats import duration_text, fmt_count, fmt_sig3
from radiosim.scenario import Scenario, parse
from radiosim.trace import FIRST_NOISE, Fate, ReadOutcome, Trace
from radiosim.vehicle.vehicle import run_vehicle
from tests.engines.random_scenarios import scenarios
from tests.examples import examples

PAIR = """
duration_s = {seconds}
seed = {seed}
radio.profile = "gfsk-1M"
transmitter.drive = {{ period_ms = {first}, payload_bytes = 12, acknowledge = {plain} }}
failsafe.drive = {{ timeout_ms = 250 }}
receiver.boot_s = {boot}
air.loss = {loss}
[transmitter.head]
period_ms = {second}
payload_bytes = 32
acknowledge = {plain}
signals = {{ value = {{ kind = "sine", period_s = 3, amplitude = 0.9 }} }}
[output.pan]
stream = "head"
field = "value"
on_failsafe = "hold"
servo = {{}}
"""
FAULTS = [
    "at_s = 1.5\nkind = 'brownout'\nunit = 'receiver'\nfor_s = 0.4",
    "at_s = 2\nkind = 'power_off'\nunit = 'drive'\nfor_s = 1",
    "at_s = 0.9\nkind = 'jam'\nunit = 'air'\nfor_s = 0.5",
]


@st.composite
def pairs(draw: st.DrawFn) -> Scenario:
    """Two transmitters that collide now and then, or beat, and faults."""
    periods = st.sampled_from([10, 19, 20, 20.001, 20.01, 23])
    text = PAIR.format(
        seconds=draw(st.sampled_from([2, 5])),
        seed=draw(st.integers(0, 9)),
        first=draw(periods),
        second=draw(periods),
        plain=draw(st.sampled_from(["true", "false"])),
        boot=draw(st.sampled_from([0, 0.2])),
        loss=draw(st.sampled_from([0, 0.05, 0.3])),
    )
    faults = draw(st.lists(st.sampled_from(FAULTS), unique=True))
    return parse(text + "".join(f"[[fault]]\n{fault}\n" for fault in faults))


def gaps_of(trace: Trace, stream: int) -> list[tuple[int, int]]:
    """Between values of a stream, one by one: from its first sample, once the receiver runs."""
    plan = plan_of(trace)
    sampled = [row["sampled_ns"] for row in trace.frames if row["stream"] == stream]
    read = [
        row["read_ns"]
        for row in trace.reads
        if row["stream"] == stream
        and row["outcome"] == ReadOutcome.READ
        and row["frame"] > FIRST_NOISE
    ]
    first = max(min(sampled, default=0), first_boot_ns(plan.steps, len(plan.tx)))
    return [(int(a), int(b)) for a, b in pairwise([first, *read, trace.duration_ns])]


def check_gaps(figure: Figure, trace: Trace) -> None:
    data = gaps.gaps_data(summarise(trace, has_curves=True), trace.scenario)
    longest = {s.name: s.longest_ms for s in data.streams}
    over = {s.name for s in data.streams if s.timeout_ms and s.longest_ms > s.timeout_ms}
    if found := re.match(r"(\S+) has a gap of (.+); its failsafe comes after (.+)", figure.title):
        assert found[1] in over
        assert found[2] == duration_text(longest[found[1]])
        return
    found = re.match(r"The longest gap is (.+), of ([^:]+)(: no timeout is met)?\Z", figure.title)
    assert found is not None
    assert longest[found[2]] == max(longest.values())
    assert found[1] == duration_text(longest[found[2]])
    assert not over
    assert bool(found[3]) == any(s.timeout_ms is not None for s in data.streams)


def check_strip(figure: Figure, trace: Trace) -> None:
    data = figure.data
    low, high = round(data["from_ms"] * 1e6), round(data["to_ms"] * 1e6)
    shown = [row for row in trace.attempts if row["start_ns"] < high and row["end_ns"] >= low]
    lost = [row for row in shown if Fate(row["fate"]).words in LOST]
    about, _, claim = figure.title.partition(": ")
    if found := re.match(r"(\d+) of (\d+) attempts? (?:is|are) lost\Z", claim):
        assert (int(found[1]), int(found[2])) == (len(lost), len(shown))
    elif claim == "nobody is on the air":
        assert not shown
    else:
        assert claim.endswith("(fault of the scenario)")
        assert trace.scenario.fault
    if figure.name == "worst":
        check_worst(about, trace, low, high)


def check_worst(about: str, trace: Trace, low: int, high: int) -> None:
    """The gap that a close-up is said to be of is the longest of its kind, and begins in it."""
    name, _, kind = about.partition("'s ")
    names = list(trace.scenario.transmitter)
    plan = plan_of(trace)
    every = {other: gaps_of(trace, number) for number, other in enumerate(names)}
    free = {
        other: [
            (a, b)
            for a, b in found
            if not any(a < end and begin < b for begin, end in impaired(plan, other))
            and b - a > STANDS_OUT * statistics.median(d - c for c, d in found)
        ]
        for other, found in every.items()
    }
    has_free = (trace.scenario.fault or plan.brownouts) and any(free.values())
    assert kind == ("longest gap without a fault begins" if has_free else "longest gap begins")
    chosen = free if has_free else every
    longest_ns = max(b - a for found in chosen.values() for a, b in found)
    assert any(b - a == longest_ns and low <= a <= high for a, b in chosen[name])


def check_beats(figure: Figure, trace: Trace) -> None:
    data = beats.beats_data(trace)
    assert data is not None
    names = list(trace.scenario.transmitter)
    a, b = names.index(data.first), names.index(data.second)
    low, high = data.from_s * 1e9, data.to_s * 1e9
    firsts = [row for row in trace.attempts if row["stream"] == b and row["attempt"] == 1]
    shown = [row for row in firsts if low <= row["start_ns"] <= high]
    others = [row for row in trace.attempts if row["stream"] == a and row["attempt"] == 1]
    if found := re.search(r"overlap for (.+) on end", figure.title):
        assert found[1] == duration_text(1000 * together_s(shown, others))
        return
    crosses = running(shown)
    if found := re.search(r"up to (\S+) first attempts of \S+ in a row", figure.title):
        assert found[1] == fmt_count(crosses)
    elif "never two first attempts" in figure.title:
        assert crosses == 1
    elif "no first attempt" in figure.title:
        assert crosses == 0
    else:
        assert "cost each other nothing" in figure.title
        assert data.lost == 0
        assert ("something else" in figure.title) == bool(data.lost_at_s)
        return
    assert figure.title.startswith(f"{fmt_count(data.lost)} attempt")


def running(shown: list[object]) -> int:
    """Most frames in a row that a collision took."""
    most = now = 0
    for row in shown:
        now = now + 1 if row["fate"] == Fate.COLLISION else 0  # type: ignore[index]
        most = max(most, now)
    return most


def together_s(shown: list[object], others: list[object]) -> float:
    """Longest time in which frame after frame overlapped one of the others'."""
    longest, since = 0, None
    for row in shown:
        begin, end = row["start_ns"], row["end_ns"]  # type: ignore[index]
        if any(o["start_ns"] < end and begin < o["end_ns"] for o in others):  # type: ignore[index]
            since = begin if since is None else since
            longest = max(longest, begin - since)
        else:
            since = None
    return round(longest / 1e9, 6)


def check_latency(figure: Figure, trace: Trace) -> None:
    data = latency.latency_data(summarise(trace, has_curves=True))
    assert data is not None
    known = [control for control in data.controls if control.age_ms is not None]
    worst = max(known, key=lambda control: control.age_ms[1] if control.age_ms else 0.0)
    assert worst.age_ms is not None
    assert worst.name in figure.title
    assert figure.title.endswith(
        f"{duration_text(worst.age_ms[0])} old in the median, "
        f"{duration_text(worst.age_ms[1])} at p99"
    )


def check_pointing(figure: Figure, trace: Trace) -> None:
    data = pointing.pointing_data(trace, run_vehicle(trace))
    assert data is not None
    worst, *others = data.servos
    assert worst.output in figure.title
    assert f"{fmt_sig3(worst.most_deg)} at worst" in figure.title
    assert all(other.most_deg <= worst.most_deg for other in others)
    assert ("without a break" in figure.title) == (not worst.lost_s)
    shown_s = worst.at_s[-1] - worst.at_s[0]
    said = re.search(r"in (?:its worst )?(\S+) seconds", figure.title)
    assert said is not None
    assert abs(float(said[1]) - shown_s) <= 0.1 * float(said[1])
    drawn = [
        abs(w - s)
        for w, s in zip(worst.wanted_deg, worst.servo_deg, strict=True)
        if w is not None and s is not None
    ]
    # Angles are drawn to a hundredth of a degree.
    assert max(drawn) >= worst.most_deg - 0.011


CHECKS = {
    "gaps": check_gaps,
    "worst": check_strip,
    "first": check_strip,
    "beats": check_beats,
    "latency": check_latency,
    "pointing": check_pointing,
}


def check_titles(scenario: Scenario) -> None:
    trace = simulate(scenario, start=0)
    for figure in figures_of_run(summarise(trace, has_curves=True), trace):
        CHECKS[figure.name](figure, trace)


@given(scenarios)
@examples(25)
def test_no_title_of_a_short_scenario_says_more_than_its_figure(scenario: Scenario) -> None:
    check_titles(scenario)


@given(st.floats(0, 3), st.floats(0, 3), st.integers(0, 99))
@examples(15)
def test_the_gap_of_the_close_up_is_the_longest_that_is_counted_whatever_boots_late(
    receiver_s: float, drive_s: float, seed: int
) -> None:
    text = PAIR.format(seconds=5, seed=seed, first=20, second=50, plain="true", boot=0, loss=0.2)
    late = text.replace("receiver.boot_s = 0", f"receiver.boot_s = {receiver_s:.3f}").replace(
        "period_ms = 20,", f"period_ms = 20, boot_s = {drive_s:.3f},"
    )
    trace = simulate(parse(late), start=0)
    gap = longest_gap(trace, make_plan(trace.scenario, 0))
    streams = summarise(trace).figures.stream

    assert (gap.end_ns - gap.begin_ns) / 1e6 == max(one.gap_ms.max for one in streams.values())
    name = tuple(trace.scenario.transmitter)[gap.stream]
    assert gap.begin_ns / 1e9 == streams[name].longest_gap_at_s


@given(pairs())
@examples(15)
def test_no_title_of_two_transmitters_says_more_than_its_figure(scenario: Scenario) -> None:
    check_titles(scenario)


@pytest.mark.parametrize(("loss", "plain"), [(0.3, "false"), (0, "true")])
def test_a_close_up_is_of_what_no_fault_explains(loss: float, plain: str) -> None:
    """A second of power off is the longest gap, and shown only where nothing else stands out."""
    text = PAIR.format(seconds=5, seed=1, first=20, second=400, plain=plain, boot=0.2, loss=loss)
    scenario = parse(f"{text}[[fault]]\n{FAULTS[1]}\n")
    trace = simulate(scenario, start=0)
    found = unexplained_gap(trace, make_plan(scenario, 0))
    (worst,) = (
        figure
        for figure in figures_of_run(summarise(trace, has_curves=True), trace)
        if figure.name == "worst"
    )

    assert (found is None) == (loss == 0)
    if found is None:
        assert worst.title == (
            "drive's longest gap begins: drive is switched off (fault of the scenario)"
        )
    else:
        # The drive alone is off from 2 to 3 s.
        assert found.stream == 1 or found.end_ns <= 2e9 or found.begin_ns >= 3e9
        assert "longest gap without a fault begins" in worst.title
        assert "(fault of the scenario)" not in worst.title
