"""Clocks that drift: closed forms, grids, and the beats that starts are placed on (rule T7)."""

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.engine.plan_drift import wander_ns
from radiosim.engine.plan_rows import Drift
from radiosim.engine.rules.drift import lateness_ns
from radiosim.engine.rules.timing import (
    drifting_after,
    drifting_point,
    drifting_until,
    grid_point,
    points_until,
)
from radiosim.engine.simulate import simulate
from radiosim.engine.unit_spans import first_boot_ns
from radiosim.radio.crystal import at_cut_ppm
from radiosim.scenario import Scenario, parse
from radiosim.study.tune.period_pairs import clocked_of, pairs_of
from radiosim.trace import COLLISION, DEAF
from tests.examples import examples

LINE = "{ ppm_per_minute = 12, for_s = 90 }"
SETTLES = "{ settle_ppm = -40, settle_s = 30 }"
WARMS = "{ from_c = -10, to_c = 70, settle_s = 40, cut_ppm_per_k = -0.3 }"
SCENARIO = """
duration_s = 240
radio.profile = "gfsk-1M"
air.loss = 0
receiver = { read = "all", boot_s = 0 }
transmitter.drive = { period_ms = 20, payload_bytes = 6, boot_s = 0, acknowledge = false }
transmitter.head = { period_ms = 20, payload_bytes = 6, boot_s = 0, acknowledge = false }
"""


def scenario(*keys: str) -> Scenario:
    return parse(SCENARIO, overrides=keys)


def drift_of(text: str) -> Drift:
    return make_plan(scenario(f"transmitter.drive.drift={text.replace(' = ', '=')}"), 0).tx[0].drift


def rate_ppm(text: str, seconds: float) -> float:
    """The drift by its meaning, not by its integral."""
    if text == LINE:
        return 12 * min(seconds, 90.0) / 60
    if text == SETTLES:
        return -40 * math.exp(-seconds / 30)
    return -at_cut_ppm(70 + (-10 - 70) * math.exp(-seconds / 40), -0.3)


@pytest.mark.parametrize("text", [LINE, SETTLES, WARMS])
def test_lateness_is_the_integral_of_the_drift(text: str) -> None:
    drift, step_s = drift_of(text), 0.01
    rates = [rate_ppm(text, (k + 0.5) * step_s) for k in range(24_000)]

    # Seconds of ppm are microseconds.
    summed_ns = np.cumsum(rates) * step_s * 1000
    for seconds in (1, 30, 89, 91, 240):
        late = lateness_ns(drift, seconds * 10**9)
        assert late == pytest.approx(summed_ns[seconds * 100 - 1], abs=0.5)
    assert drift.mean_ppb == pytest.approx(np.mean(rates) * 1000, abs=1)
    off = np.abs(rates - np.mean(rates)).max()
    assert drift.most_ppb == pytest.approx(off * 1000, rel=0.01)
    assert wander_ns(drift, 0, 240e9) == pytest.approx(0, abs=240)


drifts = st.sampled_from([LINE, SETTLES, WARMS, "{ ppm_per_minute = -1000 }"]).map(drift_of)


@given(
    drifts,
    st.integers(0, 10**12),
    st.integers(100_000, 10**9),
    st.integers(-100_000, 100_000),
    st.integers(-10, 3 * 10**11),
)
@examples(200)
def test_points_are_counted_up_to_the_last_that_has_come(
    drift: Drift, since_ns: int, every_ns: int, ppb: int, span_ns: int
) -> None:
    points = drifting_until(span_ns, every_ns, ppb, drift, since_ns)

    def at(k: int) -> int:
        return drifting_point(k, every_ns, ppb, drift, since_ns)

    assert points == 0 or at(points - 1) <= span_ns
    assert at(points) > span_ns
    assert drifting_after(span_ns, every_ns, ppb, drift, since_ns) == at(points)


@given(st.integers(0, 10**6), st.integers(1000, 10**9), st.integers(-(10**5), 10**5))
def test_a_clock_that_does_not_drift_keeps_its_grid(k: int, every_ns: int, ppb: int) -> None:
    still = Drift()

    assert drifting_point(k, every_ns, ppb, still, 7) == grid_point(k, every_ns, ppb)
    span_ns = 13 * every_ns // 3
    assert drifting_until(span_ns, every_ns, ppb, still, 7) == points_until(span_ns, every_ns, ppb)


@pytest.mark.parametrize("text", [LINE, SETTLES, WARMS])
def test_starts_meet_a_beat_where_the_closed_form_says_so(text: str) -> None:
    given = scenario(
        f"transmitter.drive.drift={text.replace(' = ', '=')}",
        "transmitter.drive.clock_ppm=3",
        "transmitter.head.clock_ppm=0",
    )
    said, seen = [], []
    for start in range(24):
        plan = make_plan(given, start)
        said.append(plan.phases.densities[0] > 0)
        fates = simulate(given, start=start).attempts["fate"]
        seen.append(bool(np.any(fates == COLLISION)))
        assert seen[-1] or plan.phases.made_for is None, start

    assert said == seen
    assert 8 <= sum(seen) < 24


def test_deaf_spans_of_a_receiver_drift() -> None:
    given = parse(
        SCENARIO.partition("transmitter.head")[0],
        overrides=[
            "transmitter.drive.offset_ms=0",
            "transmitter.drive.clock_ppm=0",
            "receiver.clock_ppm=0",
            "receiver.deaf=[{every_ms=20, for_ms=1, offset_ms=18.47}]",
            "receiver.drift.ppm_per_minute=60",
        ],
    )
    # Its grid begins with its program, 101.63 ms on: the spans begin 100 us after the samples.
    assert first_boot_ns(make_plan(given, 1).steps, 1) == 101_630_000
    rows = simulate(given, start=1).attempts
    deaf_s = rows["start_ns"][rows["fate"] == DEAF] / 1e9
    # Late by 5e-7 t² s: out of the frame of 137 us, 145 us after its sample, and in again in 20 ms.
    first = deaf_s[deaf_s < 60]
    assert first[0] < 0.2
    frame_us = float(rows["end_ns"][0] - rows["start_ns"][0]) / 1000
    lead_us = float(rows["start_ns"][0]) / 1000
    assert first[-1] == pytest.approx(math.sqrt((lead_us + frame_us - 100) * 1e-6 / 5e-7), abs=0.03)


def test_pairs_take_the_mean_rate_and_a_clock_that_is_wider_by_the_drift() -> None:
    keys = ("transmitter.drive.clock_ppm=0", "transmitter.head.clock_ppm=0")
    drifting = scenario(*keys, f"transmitter.drive.drift={SETTLES.replace(' = ', '=')}")
    drift = drift_of(SETTLES)

    (still,), (pair,) = pairs_of(scenario(*keys)), pairs_of(drifting)
    clocked = clocked_of(drifting)["drive"]
    assert still.every_s is None
    assert clocked.drifts
    assert clocked.period_ns == pytest.approx(20e6 * (1 + drift.mean_ppb / 1e9))
    assert clocked.off == pytest.approx(drift.most_ppb / 1e9)
    # At least: with the clocks as far apart as they come, 20 ms over 40 ppm.
    assert pair.every_s == pytest.approx(0.02 / 40e-6, rel=0.01)


def test_a_power_cut_does_not_cool_a_clock() -> None:
    keys = (f"transmitter.drive.drift={SETTLES.replace(' = ', '=')}",)
    cut = (*keys, 'fault=[{at_s=20, for_s=1, kind="power_off", unit="drive"}]')

    def step_ns(*given: str) -> int:
        """From one sample to the next, 100 s on."""
        at = simulate(scenario(*given), start=1).frames
        at = at["sampled_ns"][(at["stream"] == 0) & (at["sampled_ns"] > 100 * 10**9)]
        return int(at[1000] - at[0])

    # A cold clock would be 1.4 ppm further off: 29,000 ns in 20 s.
    assert abs(step_ns(*keys) - step_ns(*cut)) <= 100


def test_a_clock_drifts_from_when_its_unit_is_switched_on() -> None:
    line = f"transmitter.drive.drift={SETTLES}"
    early, late = (
        make_plan(scenario(line, f"transmitter.drive.start_s={start_s}"), 0).tx[0].drift
        for start_s in (0, 3)
    )

    for ns in (0, 1, 4_000_000_000, 60_000_000_000):
        assert lateness_ns(late, 3_000_000_000 + ns) == lateness_ns(early, ns)
    assert lateness_ns(late, 2_000_000_000) == 0


steep = st.fixed_dictionaries(
    {
        "ppm_per_minute": st.integers(-1000, 1000),
        "for_s": st.integers(1, 240),
        "settle_ppm": st.integers(-1000, 1000),
        "settle_s": st.integers(1, 240),
    }
)


@example(
    {"ppm_per_minute": 300, "for_s": 100, "settle_ppm": 400, "settle_s": 30},
    {"ppm_per_minute": -500, "for_s": 240, "settle_ppm": -900, "settle_s": 60},
)
@given(steep, steep)
@examples(15)
def test_no_beat_of_clocks_that_drift_comes_sooner_than_is_said(
    drive: dict[str, int], head: dict[str, int]
) -> None:
    both = {"drive": drive, "head": head}
    given = scenario(
        *(f"transmitter.{name}.clock_ppm=0" for name in both),
        *(f"transmitter.{name}.drift.{k}={v}" for name, of in both.items() for k, v in of.items()),
    )
    (pair,) = pairs_of(given)
    one, other = (tx.drift for tx in make_plan(given, 0).tx)
    every_ns = round((pair.every_s or 240) * 1e9)

    # From one beat to the next the samples of one fall behind the other's by a period.
    for at_ns in range(0, max(1, 240 * 10**9 - every_ns), 3 * 10**9):
        later_ns = min(at_ns + every_ns, 240 * 10**9)
        behind = [lateness_ns(row, later_ns) - lateness_ns(row, at_ns) for row in (one, other)]
        assert abs(behind[0] - behind[1]) <= 1.005 * 20e6
