"""From starts to a summary."""

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.jit import JitBackend
from radiosim.engine.simulate import simulate
from radiosim.measure import Summary, summarise, summary_of
from radiosim.measure.figures import flat
from radiosim.measure.histogram import COUNTS, EDGES, Histogram, Spread, add_span, of_spread
from radiosim.measure.start import tally_start
from radiosim.measure.summarise import LOG_TOLERANCE, MOST_POINTS, TOLERANCE, curve_of, kept_points
from radiosim.measure.summary import Curve
from radiosim.registers.figure_register import figure_paths as known_figures
from radiosim.safety import CAUTION
from radiosim.vehicle.reaction_bound import ENDLESS_PASS
from tests.traces import scenario_with

SHORT = ("duration_s=0.3", "air.loss=0.1")


def summary(*overrides: str, starts: int = 1) -> Summary:
    scenario = scenario_with(*SHORT, *overrides)
    tallies = [tally_start(simulate(scenario, start=start)) for start in range(3, 3 + starts)]
    return summary_of(scenario, tallies)


def test_one_start_is_named_by_its_number() -> None:
    found = summarise(simulate(scenario_with(*SHORT), start=5))

    assert (found.start, found.starts, found.first_start) == (5, 1, 5)
    assert found.worst == {}
    assert found.engine == "fast"


def test_several_starts_have_worst_ones() -> None:
    found = summary(starts=3)

    assert (found.start, found.starts, found.first_start) == (None, 3, 3)
    assert found.worst["stream.drive.gap_ms.max"].start in (3, 4, 5)
    assert found.worst["stream.drive.gap_ms.max"].value == found.figures.stream["drive"].gap_ms.max


def test_the_same_seed_gives_the_same_summary() -> None:
    assert summary(starts=2) == summary(starts=2)


def test_a_seed_of_its_own_is_reported() -> None:
    assert summarise(simulate(scenario_with(*SHORT), seed=0)).seed == 0


def test_a_summary_is_ok_only_if_every_requirement_was_judged_and_held() -> None:
    always = "requirement=[{figure='air.occupancy', at_most=1.0}]"
    apart = "transmitter.head.period_ms=17"

    assert summary().ok
    assert summary(always, apart).ok
    assert not summary(always).ok, "equal clocks: no run sees them meet"
    assert not summary("requirement=[{figure='air.occupancy', at_most=0.0}]", apart).ok
    assert not summary("requirement=[{figure='worst.drive.reaction_ms', at_most=500}]", apart).ok


def test_only_a_pass_that_may_have_no_end_leaves_no_bound() -> None:
    slow = summary("receiver.loop_ms=150").reaction["drive"]
    stuck = summary("receiver.interrupt=true", "receiver.spi_overhead_us=500").reaction["drive"]

    assert slow.why == {}
    assert set(stuck.why.values()) == {ENDLESS_PASS}
    assert set(stuck.bound_ms.values()) == {None}


def test_a_timer_says_what_it_is_blind_to() -> None:
    plain = summary().reaction["drive"].blind_to
    any_ = summary("failsafe.drive.fed_by='any'").reaction["drive"].blind_to
    careful = summary("failsafe.drive.watch_field='count'", "receiver.watchdog_ms=50")

    assert plain == (
        "a stale transmitter that repeats old values",
        "a hung receiver program (no watchdog)",
    )
    assert any_[0] == "its own transmitter silent while another sends"
    assert careful.reaction["drive"].blind_to == ()


def test_a_stream_without_failsafe_has_neither_timeout_nor_bound() -> None:
    found = summary().reaction["head"]

    assert found.timeout_ms is None
    assert found.bound_ms == {"pan": None}
    assert found.why == {"pan": "its stream has no failsafe"}
    assert found.blind_to == ()


def test_the_terms_are_those_of_the_longest_bound_and_add_up_to_it() -> None:
    found = summary(
        "output.lamp={stream='drive', field='throttle', kind='pin', on_failsafe='off'}"
    ).reaction["drive"]

    track = found.bound_ms["track"]
    assert track is not None
    assert sum(found.terms_ms.values()) == pytest.approx(track)
    assert track > (found.bound_ms["lamp"] or 0)


def test_every_figure_of_a_run_can_be_required() -> None:
    found = summary("output.track.servo={travel_deg=180}")
    known = known_figures(("drive", "head"), ("track", "pan"))

    assert [path for path in flat(found.figures) if path not in known] == []


def test_a_summary_and_a_scenario_are_shown_in_a_line() -> None:
    shown, caution = repr(summary()).split("\n")

    assert caution == CAUTION
    assert shown.startswith("Summary('")
    assert "drive: " in shown
    assert len(shown) < 200
    assert repr(scenario_with()).startswith("Scenario('")


def test_a_motor_stops_a_stop_s_after_its_bound() -> None:
    motor = "output.track.motor={stop_s=0.75}"
    found = summary(motor).reaction["drive"]

    bound_ms = found.bound_ms["track"]
    assert bound_ms is not None
    assert found.stopping_ms == {"track": bound_ms + 750}


PLAIN = JitBackend(None)
ROUNDED = 1e-4
"""Curves have five digits."""
spans = st.lists(st.integers(2_000, 8_000_000_000_000), min_size=1, max_size=300)


def histogram_of(values: list[int]) -> Histogram:
    spread = PLAIN.record(Spread, COUNTS)
    for value in values:
        add_span(spread, value)
    return of_spread(spread, PLAIN)


def curve(values: list[int], *, is_log: bool = False) -> Curve:
    found = curve_of(histogram_of(values), is_log=is_log)
    assert found is not None
    return found


def at(found: Curve, ns: npt.NDArray[np.float64], *, is_log: bool) -> npt.NDArray[np.float64]:
    """The curve between its points, straight over the logarithm of time."""
    shares = np.array(found.beyond[:-1])
    shares = np.log10(shares) if is_log else shares
    return np.interp(np.log10(ns / 1e6), np.log10(found.ms[:-1]), shares)


@given(spans, st.booleans())
def test_a_curve_rises_in_time_and_falls_from_all_to_nothing(
    values: list[int], is_log: bool
) -> None:
    found = curve(values, is_log=is_log)

    assert len(found.ms) == len(found.beyond) <= MOST_POINTS
    assert np.all(np.diff(found.ms) >= 0)
    assert np.all(np.diff(found.beyond) <= 0)
    assert (found.beyond[0], found.beyond[-1]) == (1.0, 0.0)
    assert found.ms[-1] == pytest.approx(max(values) / 1e6, rel=ROUNDED)


@given(spans, st.booleans())
def test_at_every_edge_of_a_bin_it_is_the_share_that_numpy_counts(
    values: list[int], is_log: bool
) -> None:
    found = curve(values, is_log=is_log)
    last = EDGES[np.searchsorted(EDGES, max(values), "right") - 1]
    edges = EDGES[(found.ms[0] * 1.001e6 <= EDGES) & (last >= EDGES)]
    wanted = np.array([np.mean(np.array(values) >= edge) for edge in edges])
    wanted = np.log10(wanted) if is_log else wanted

    # A point is rounded to five digits, less than a hundredth of the width of a bin.
    tolerance = (LOG_TOLERANCE if is_log else TOLERANCE) + ROUNDED
    off = np.minimum.reduce(
        [np.abs(at(found, edges * k, is_log=is_log) - wanted) for k in (1, 1 - 1e-4, 1 + 1e-4)]
    )
    assert off.max(initial=0.0) <= tolerance


@pytest.mark.parametrize("is_log", [False, True])
def test_many_different_spans_need_no_more_points(is_log: bool) -> None:
    # Law of large numbers: a lognormal's median is exp(mu), from memory.
    values = np.random.default_rng(1).lognormal(17, 1.0, 100_000).astype(np.int64).tolist()
    found = curve(values, is_log=is_log)
    half = np.exp(17.0)

    assert len(found.ms) <= MOST_POINTS
    share = at(found, np.array([half]), is_log=is_log)[0]
    assert (10**share if is_log else share) == pytest.approx(0.5, abs=0.02)


def test_a_saw_of_spans_is_held_to_the_most_points() -> None:
    rng = np.random.default_rng(2)
    octaves = 2.0 ** rng.integers(0, 30, 20_000) * (1 + rng.integers(0, 32, 20_000) / 32)

    found = curve((2_000 * octaves).astype(np.int64).tolist(), is_log=True)

    assert 100 < len(found.ms) <= MOST_POINTS


def test_spans_below_a_microsecond_are_missing_from_the_first_share() -> None:
    found = curve([0, 20_000_000, 20_000_000, 20_000_000])

    assert found.beyond[0] == 0.75
    assert found.ms[0] == pytest.approx(20, rel=0.012)


@pytest.mark.parametrize("values", [[], [0, 0, 10]])
def test_nothing_above_a_microsecond_has_no_curve(values: list[int]) -> None:
    assert curve_of(histogram_of(values)) is None


@given(
    st.lists(st.tuples(st.floats(0.01, 1), st.floats(-5, 5)), min_size=1, max_size=200),
    st.floats(0.001, 1),
)
def test_points_left_out_lie_within_the_tolerance_of_those_kept(
    steps: list[tuple[float, float]], tolerance: float
) -> None:
    x = np.cumsum([run for run, _ in steps])
    y = np.array([value for _, value in steps])
    kept = kept_points(x, y, tolerance)

    assert kept[0] == 0
    assert kept[-1] == len(x) - 1
    assert kept == sorted(set(kept))
    assert np.abs(np.interp(x, x[kept], y[kept]) - y).max() <= tolerance + 1e-9


def test_a_straight_line_keeps_its_ends() -> None:
    assert kept_points(np.arange(50.0), 3 - np.arange(50.0), 0.01) == [0, 49]
