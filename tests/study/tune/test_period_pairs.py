"""What the periods of two transmitters say beforehand."""

import pytest
from hypothesis import given

from radiosim.engine.grids import can_starve
from radiosim.engine.named_grids import named_grids
from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import simulate
from radiosim.report.tune_sentences import pair_sentence
from radiosim.scenario import Scenario, parse
from radiosim.study.tune.period_pairs import clash_share_of, pairs_of, period_ns
from radiosim.trace import Trace
from tests.engines.random_scenarios import scenarios
from tests.examples import examples
from tests.study.tune.scenarios import shipped, two

PLAIN = """
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 12, acknowledge = false, clock_ppm = 60 }
transmitter.head = { period_ms = 20, payload_bytes = 13, acknowledge = false, clock_ppm = -60 }
"""
DEAF = """
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 12, acknowledge = false, clock_ppm = 60 }
receiver = { clock_ppm = -60, deaf = [{ every_ms = 20, for_ms = 1 }] }
"""


def plain(*overrides: str) -> Scenario:
    return parse(PLAIN, overrides=overrides)


def test_a_spell_is_as_long_and_as_far_apart_as_the_closed_form_says() -> None:
    """Facts 5: both frames over the difference of the periods; one period after another's beat."""
    (pair,) = pairs_of(plain())

    # 160 and 168 us at 1 Mbit/s; 120 ppm of 20 ms are 2.4 us.
    assert pair.burst_frames == pytest.approx(328 / 2.4, rel=1e-4)
    assert pair.every_s == pytest.approx(0.020 / 120e-6, rel=1e-4)
    assert pair.is_beating
    assert pair.clash_share == pytest.approx((0.328 / 20, 0.328 / 20), rel=1e-4)


def test_a_clock_that_is_not_known_is_taken_as_far_off_as_it_may_be() -> None:
    known, unknown = plain(), shipped("twin-clocks")
    (sure,), (unsure,) = pairs_of(known), pairs_of(unknown)

    assert unsure.every_s == pytest.approx(sure.every_s, rel=1e-3)
    assert unsure.window_ms == pytest.approx(0.320 + 0.0024, rel=1e-4)


@pytest.mark.parametrize(
    ("look_ms", "is_beating"),
    [(20, True), (10, True), (40, True), (60, True), (40.4, False), (23, False), (20.3, True)],
)
def test_periods_beat_near_any_multiple_not_just_near_equal(
    look_ms: float, is_beating: bool
) -> None:
    (pair,) = pairs_of(plain(f"transmitter.head.period_ms={look_ms}"))

    assert pair.is_beating == is_beating


def test_the_jitters_of_both_widen_the_window() -> None:
    both = ("transmitter.drive.jitter_ms=1", "transmitter.head.jitter_ms=2")
    (pair,) = pairs_of(plain("transmitter.head.period_ms=23", *both))

    assert pair.window_ms == pytest.approx(0.328 + 3, rel=1e-3)
    assert pair.is_beating


@pytest.mark.parametrize(("dither_ms", "is_beating"), [(0.327, True), (0.329, False)])
def test_from_a_dither_of_both_frames_on_nothing_beats(dither_ms: float, is_beating: bool) -> None:
    (pair,) = pairs_of(plain(f"transmitter.head.dither_ms={dither_ms}"))

    assert pair.is_beating == is_beating
    assert pair.window_ms == pytest.approx(0.328 + dither_ms, rel=1e-3)
    # No sooner than with the longest periods of the one that dithers.
    assert pair.burst_frames == pytest.approx(max(1, 0.65 / 0.33), rel=0.02)
    said = "BEAT" if is_beating else "dither scatters them"
    assert said in pair_sentence(pair).text


def test_acknowledgements_make_the_receiver_deaf_and_are_hit_themselves() -> None:
    """Facts 5: (a + b + 2 settle + ack) / T, and (min(b, settle) + ack) / T for
    acknowledgements."""
    (pair,) = pairs_of(two())
    # 6 bytes: 121 us; 4 bytes: 105; an acknowledgement: 73; to settle: 130.
    both = 121 + 105 + 2 * 130 + 73

    assert pair.clash_share == pytest.approx((both / 23e3, both / 20e3))
    assert pair.acknowledgement_share == pytest.approx(((105 + 73) / 23e3, (121 + 73) / 20e3))


def test_shares_of_several_pairs_join() -> None:
    third = "transmitter.third={period_ms = 31, payload_bytes = 6}"
    pairs = pairs_of(two(third, "transmitter.third.retry_delay_us=2750"))
    of_drive = [pair.clash_share[0] for pair in pairs if pair.first == "drive"]

    assert len(pairs) == 3
    expected = 1 - (1 - of_drive[0]) * (1 - of_drive[1])
    assert clash_share_of(pairs, "drive") == pytest.approx(expected)


@pytest.mark.parametrize(
    "keys",
    [
        "pacing = 'elapsed', period_ms = 20, loop_ms = 0.4",
        "pacing = 'elapsed', period_ms = 20, loop_ms = 7",
        "pacing = 'after_send', pause_ms = 13",
        "period_ms = 20, acknowledge = 'flag'",
    ],
)
def test_a_program_keeps_the_period_that_it_is_said_to_keep(keys: str) -> None:
    alone = parse(
        'radio.profile = "gfsk-1M"\nduration_s = 3\nair.loss = 0\nreceiver.read = "all"\n'
        f"transmitter.drive = {{ payload_bytes = 6, clock_ppm = 0, {keys} }}\n"
    )
    trace: Trace = simulate(alone)
    sampled = trace.frames["sampled_ns"]
    # The receiver boots first: until then retries stretch the period.
    apart = sampled[-1] - sampled[-51]

    assert apart / 50 == pytest.approx(period_ns(alone, "drive"), abs=1)


def test_a_grid_beats_as_another_transmitter_does() -> None:
    """Facts 5: the frame and the span over the difference of the periods."""
    (pair,) = pairs_of(parse(DEAF))

    assert (pair.first, pair.second) == ("drive", "receiver.deaf[0]")
    # 160 us and 1 ms; 120 ppm of 20 ms are 2.4 us.
    assert pair.burst_frames == pytest.approx(1160 / 2.4, rel=1e-4)
    assert pair.every_s == pytest.approx(0.020 / 120e-6, rel=1e-4)
    assert pair.clash_share == pytest.approx((1.16 / 20, 0), rel=1e-3)


@pytest.mark.parametrize(
    ("key", "is_beating"),
    [
        ("transmitter.drive.period_ms=40", [True]),
        ("transmitter.drive.period_ms=23", [False]),
        # It takes one frame of two.
        ("transmitter.drive.period_ms=10", [False]),
        ("transmitter.drive.jitter_ms=11", [False]),
        # A retry outlasts it.
        ("transmitter.drive={payload_bytes=12, period_ms=20, retry_delay_us=1500}", []),
    ],
)
def test_a_grid_starves_where_it_takes_frame_after_frame(key: str, is_beating: list[bool]) -> None:
    assert [pair.is_beating for pair in pairs_of(parse(DEAF, overrides=[key]))] == is_beating


@given(scenario=scenarios)
@examples(100)
def test_whatever_can_starve_a_transmitter_is_among_its_beats(scenario: Scenario) -> None:
    """Beats of starts, and beats of periods: one table of grids."""
    plan = make_plan(scenario, 0)
    rx, tx = plan.rx._replace(ppb=0), tuple(unit._replace(ppb=0) for unit in plan.tx)
    beating = {(pair.first, pair.second) for pair in pairs_of(scenario) if pair.is_beating}

    for name, grid in named_grids(scenario, plan).items():
        for place, stream in enumerate(plan.streams):
            if can_starve(rx, tx, place, grid):
                assert (stream, name) in beating
