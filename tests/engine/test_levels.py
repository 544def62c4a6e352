"""How strong a transmitter is at the other end, and the air's bursts."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.engine.plan_rows import Emitter, Tx
from radiosim.engine.rules.antennas import on_track
from radiosim.engine.rules.levels import (
    NEVER_NS,
    begins_bad,
    budgets,
    bursts_around,
    emits,
    error_rate,
    errors_until,
    gain_at,
    next_shadow,
    outside_mw,
    path_gain_db,
    shadow_draw,
    state_ns,
)
from radiosim.radio.propagation import TURN_32, cosine_of, sine_of, turned
from radiosim.scenario import parse

SCENARIO = """
duration_s = 1
radio.profile = "gfsk-1M"
transmitter.drive.period_ms = 20
transmitter.drive.payload_bytes = 6
"""


def transmitter(keys: str, start: int = 0) -> Tx:
    return make_plan(parse(SCENARIO + keys), start).tx[0]


def test_a_track_is_straight_between_its_points_and_stays_at_its_ends() -> None:
    tx = transmitter("air.range.track = [[1, 10], [3, 50], [4, 20]]\n")

    metres = [on_track(tx.track, tx.points, round(s * 1e9)) for s in (0, 1, 2, 3, 3.5, 4, 9)]
    assert metres == [10, 10, 30, 50, 35, 20, 20]


def test_the_level_follows_the_track() -> None:
    tx = transmitter('air.range = { path = "free-space", track = [[0, 10], [10, 100]] }\n')

    fall_db = path_gain_db(tx, 0) - path_gain_db(tx, 10 * 10**9)
    assert fall_db == pytest.approx(20)


def test_antennas_and_place_move_the_level() -> None:
    far = 'air.range = { path = "free-space", distance_m = 10 }\n'
    plain = transmitter(far).fixed_db

    place = "transmitter.drive.place = { distance_m = 100, gain_dbi = 3 }\n"
    assert transmitter(far + place).fixed_db == pytest.approx(plain - 20 + 3)
    deaf_end = far.replace(" }", ", receiver_gain_dbi = -2 }")
    assert transmitter(deaf_end).fixed_db == pytest.approx(plain - 2)


def test_a_measured_point_shifts_the_whole_curve() -> None:
    far = 'air.range = { path = "free-space", distance_m = %d%s }\n'
    anchor = ", anchor = { distance_m = 40, delivery = 0.5 }"

    shifts = [
        transmitter(far % (metres, anchor)).fixed_db - transmitter(far % (metres, "")).fixed_db
        for metres in (5, 40, 200)
    ]
    assert shifts == pytest.approx([shifts[0]] * 3)


@given(st.integers(0, TURN_32 - 1))
def test_cosine_and_sine_are_those_of_the_library(turns: int) -> None:
    angle = 2 * math.pi * turns / TURN_32

    assert cosine_of(turns) == pytest.approx(math.cos(angle), abs=1e-7)
    assert sine_of(turns) == pytest.approx(math.sin(angle), abs=1e-7)


@given(st.integers(-(2**45), 2**45), st.integers(0, 2**63 - 1), st.integers(0, 2**60))
def test_where_a_wave_stands_does_not_hang_on_the_width_of_numbers(
    rate: int, phase: int, now: int
) -> None:
    wrapped = (rate * now + phase + 2**63) % 2**64 - 2**63

    assert turned(rate, phase, now) == (wrapped >> 32) & 0xFFFFFFFF


def test_shadowing_keeps_its_spread_and_forgets_with_its_steps() -> None:
    tx = transmitter('air.range = { distance_m = 10, path = "log-distance" }\n')
    drawn = np.empty(60_000)
    drawn[0] = shadow_draw(tx, 0)
    for step in range(1, len(drawn)):
        drawn[step] = next_shadow(tx, step, float(drawn[step - 1]))

    # 60,000 steps hold some 1,500 independent ones: twice the correlation's 20 steps.
    assert np.std(drawn) == pytest.approx(1.0, abs=5 * (0.5 / 1_500) ** 0.5)
    for lag in (5, 20, 40):
        found = np.mean(drawn[:-lag] * drawn[lag:])
        assert found == pytest.approx(math.exp(-lag / 20), abs=5 / 1_500**0.5)


def test_without_fading_or_shadowing_the_level_stands_still() -> None:
    tx = transmitter('air.range = { distance_m = 10, path = "free-space" }\n')

    assert (
        gain_at(tx, RX, 0, 0.0)
        == gain_at(tx, RX, 10**12, 0.0)
        == pytest.approx(10 ** (tx.fixed_db / 10))
    )


def test_spells_have_their_mean_lengths_and_share() -> None:
    keys = "air.burst = { good_ms = 900, bad_ms = 100 }\n"
    rx = make_plan(parse(SCENARIO + keys), 0).rx
    good = [state_ns(rx, burst, False) for burst in range(500)]
    bad = [state_ns(rx, burst, True) for burst in range(500)]

    # Five standard errors of 500 exponential lengths, and of 500 starts.
    assert np.mean(good) == pytest.approx(900e6, rel=5 / 500**0.5)
    assert np.mean(bad) == pytest.approx(100e6, rel=5 / 500**0.5)
    begun = [begins_bad(make_plan(parse(SCENARIO + keys), start).rx) for start in range(500)]
    assert np.mean(begun) == pytest.approx(0.1, abs=5 * (0.09 / 500) ** 0.5)


SCENARIO_OF_EMISSIONS = """
duration_s = 1
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
air.range.distance_m = 10
"""
BURSTS = '{ kind = "bursts", channel_mhz = 2468, burst_ms = 0.4, duty = 0.3 }'


def emitters(*interferers: str, start: int = 0) -> tuple[Emitter, ...]:
    keys = [f"interferer.n{i}={text}" for i, text in enumerate(interferers)]
    return make_plan(parse(SCENARIO_OF_EMISSIONS, overrides=keys), start).rx.emitter


@st.composite
def any_emitter(draw: st.DrawFn) -> Emitter:
    kind = draw(st.sampled_from(["bursts", "transmitter", "jammer"]))
    more = {
        "bursts": "burst_ms = 0.3, duty = 0.4, beacon_every_ms = 7, beacon_ms = 2",
        "transmitter": "period_ms = 3, payload_bytes = 32",
        "jammer": "width_mhz = 5",
    }[kind]
    spans = draw(st.sampled_from(["", ", from_s = 0.002", ", from_s = 0.001, for_s = 0.003"]))
    found = emitters(
        f'{{ kind = "{kind}", channel_mhz = 2468, {more}{spans} }}', start=draw(st.integers(0, 50))
    )
    return draw(st.sampled_from(found))


@given(any_emitter(), st.integers(0, 10_000_000), st.integers(1, 3_000_000), st.data())
def test_what_is_said_of_a_span_holds_at_every_instant_in_it(
    emitter: Emitter, now: int, length: int, data: st.DataObject
) -> None:
    sends, until_ns = emits(emitter, now, now + length)

    assert now < until_ns <= now + length
    inside = data.draw(st.integers(now, until_ns - 1))
    assert emits(emitter, inside, inside + 1)[0] == sends


@given(any_emitter(), st.integers(0, 5_000_000))
def test_stepping_from_change_to_change_meets_every_change(emitter: Emitter, now: int) -> None:
    end = now + 2_000_000
    on_ns, at = 0, now
    while at < end:
        sends, until_ns = emits(emitter, at, end)
        on_ns += (until_ns - at) * sends
        at = until_ns
    looked = [emits(emitter, instant, instant + 1)[0] for instant in range(now, end, 997)]

    assert on_ns / 2_000_000 == pytest.approx(np.mean(looked), abs=0.03)


def test_bursts_take_their_share_of_the_time_and_come_at_random() -> None:
    share, counts = [], []
    for start in range(40):
        (emitter,) = emitters(BURSTS, start=start)
        cells = range(200)
        counts += [burst_count(emitter, cell) for cell in cells]
        looked = [emits(emitter, t, t + 1)[0] for t in range(0, 200_000_000, 1_000_003)]
        share.append(np.mean(looked))

    # Five standard errors of 40 starts of 200 looks, and of 8,000 Poisson cells.
    assert np.mean(share) == pytest.approx(0.3, abs=5 * 0.46 / 8000**0.5)
    assert np.mean(counts) == pytest.approx(1.0, abs=5 / 8000**0.5)
    assert np.var(counts) == pytest.approx(1.0, abs=5 * (3 / 8000) ** 0.5)


def burst_count(emitter: Emitter, cell: int) -> int:
    """Bursts of a cell, by asking for the next one again and again."""
    at, count = cell * emitter.every_ns - 1, 0
    while (at := bursts_around(emitter, cell, at)[1]) != NEVER_NS:
        count += 1
    return count


def test_a_neighbour_sends_on_its_grid_and_its_receiver_acknowledgements() -> None:
    frame, acknowledgement = emitters(
        '{ kind = "transmitter", channel_mhz = 2468, payload_bytes = 32, period_ms = 10 }'
    )

    assert (frame.burst_ns, acknowledgement.burst_ns) == (329_000, 73_000)
    assert acknowledgement.offset_ns - frame.offset_ns == 329_000 + 130_000
    assert emits(frame, frame.offset_ns, NEVER_NS) == (True, frame.offset_ns + 329_000)
    assert emits(frame, frame.offset_ns - 1, NEVER_NS) == (False, frame.offset_ns)


def test_levels_add_up_at_each_end() -> None:
    levels = "power_dbm_at_receiver = -70, power_dbm_at_transmitters = -80"
    jammer = f'{{ kind = "jammer", channel_mhz = 2468, {levels} }}'
    rx = make_plan(
        parse(
            SCENARIO_OF_EMISSIONS, overrides=[f"interferer.a={jammer}", f"interferer.b={jammer}"]
        ),
        0,
    ).rx

    at_receiver, until_ns = outside_mw(rx, True, 0, 1_000)
    at_transmitters, _ = outside_mw(rx, False, 0, 1_000)
    assert until_ns == 1_000
    assert at_receiver == 2 * rx.emitter[0].at_receiver_mw
    assert at_receiver / at_transmitters == pytest.approx(10)


PLAN = make_plan(
    parse(
        """
duration_s = 1
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
air.range.distance_m = 10
interferer.house.kind = "bursts"
interferer.house.channel_mhz = 2468
interferer.house.burst_ms = 0.2
interferer.house.duty = 0.4
interferer.house.power_dbm_at_receiver = -80
"""
    ),
    0,
)
TX, RX = PLAN.tx[0], PLAN.rx
QUIET = RX._replace(emitters=0)
levels = st.floats(-100, -40).map(lambda dbm: 10 ** (dbm / 10))
spans = st.tuples(st.integers(0, 10**8), st.integers(1, 400_000))


def until(rx, level, inside, budget, start, length):  # type: ignore[no-untyped-def]
    quiet = error_rate(rx, level, 0.0)
    return errors_until(rx, True, level, quiet, inside, 0.0, budget, start, start + length)


def test_at_rated_sensitivity_one_bit_in_a_thousand_fails() -> None:
    level_mw = 10 ** (-85 / 10)

    # 1,000 ns are one bit at 1 Mbit/s.
    assert error_rate(QUIET, level_mw, 0.0) * 1_000 == pytest.approx(-math.log1p(-1e-3))


def test_at_the_co_channel_ratio_interference_does_as_much_as_noise_at_sensitivity() -> None:
    strong_mw, beside_mw = 1e-3, 1e-3 / 10**1.2 * RX.own_weight

    assert error_rate(QUIET, strong_mw, beside_mw) * 1_000 == pytest.approx(1e-3, rel=2e-3)


@given(levels, levels, spans, st.floats(1, 1e6))
def test_more_power_or_less_interference_never_makes_more_errors(
    level: float, inside: float, span: tuple[int, int], times: float
) -> None:
    errors, _ = until(RX, level, inside, 1.0, *span)

    assert until(RX, level * times, inside, 1.0, *span)[0] <= errors
    assert until(RX, level, inside / times, 1.0, *span)[0] <= errors
    assert until(QUIET, level, inside, 1.0, *span)[0] <= errors


@given(levels, levels, spans, st.integers(0, 400_000))
def test_a_shorter_frame_never_makes_more_errors(
    level: float, inside: float, span: tuple[int, int], less: int
) -> None:
    start, length = span
    shorter = max(1, length - less)

    assert until(RX, level, inside, 1.0, start, shorter)[0] <= until(
        RX, level, inside, 1.0, start, length
    )[0] * (1 + 1e-12)


@given(levels, levels, spans, st.floats(1e-6, 5))
def test_a_signal_is_spoilt_at_the_instant_at_which_its_budget_is_used_up(
    level: float, inside: float, span: tuple[int, int], budget: float
) -> None:
    start, length = span
    errors, spoilt_ns = until(RX, level, inside, budget, start, length)

    assert (spoilt_ns == NEVER_NS) == (errors < budget)
    if spoilt_ns != NEVER_NS:
        assert start <= spoilt_ns <= start + length
        if spoilt_ns > start:
            before, _ = until(RX, level, inside, budget, start, spoilt_ns - start)
            assert before <= budget * (1 + 1e-9)


def test_budgets_are_exponential_and_belong_to_an_attempt() -> None:
    drawn = [budgets(TX, frame, 1) for frame in range(4_000)]

    # Five standard errors of 4,000 exponential numbers.
    for side in (0, 1):
        mean = sum(pair[side] for pair in drawn) / len(drawn)
        assert mean == pytest.approx(1.0, abs=5 / 4_000**0.5)
    assert budgets(TX, 7, 1) != budgets(TX, 7, 2)
    assert budgets(TX, 7, 1) != budgets(TX._replace(branch=1), 7, 1)
