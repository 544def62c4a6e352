"""Beats of a transmitter with deaf spans, and with bursts that come on a grid."""

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.grids import grid_window_ns
from radiosim.engine.named_grids import named_grids
from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import simulate
from radiosim.engine.stratification import EVERY
from radiosim.measure.start import seen_beats
from radiosim.scenario import Scenario, parse
from radiosim.study.starts import simulate_starts
from radiosim.trace import COLLISION, DEAF, FULL
from tests.engines.random_scenarios import scenarios
from tests.examples import examples

DEAF_SPANS = """
duration_s = 20
radio.profile = "gfsk-1M"
air.loss = 0.0
transmitter.drive = { period_ms = 20, payload_bytes = 8, acknowledge = false, clock_ppm = 12 }
receiver = { read = "all", clock_ppm = -8, deaf = [{ every_ms = 20, for_ms = 1 }] }
"""
BEACONS = """
duration_s = 20
radio = { profile = "gfsk-1M", channel = 72 }
transmitter.drive = { period_ms = 20, payload_bytes = 8, acknowledge = false, clock_ppm = 12 }
receiver.read = "all"
air.range.distance_m = 10

[interferer.hall]
kind = "bursts"
channel_mhz = 2472
duty = 0
power_dbm_at_receiver = -40
beacon_every_ms = 20
beacon_ms = 1
"""
WORK = """
duration_s = 10
radio.profile = "gfsk-1M"
air.loss = 0.0
transmitter.drive = { period_ms = 2.3, payload_bytes = 8, acknowledge = false, clock_ppm = 0 }
transmitter.head = { period_ms = 100, payload_bytes = 8, acknowledge = false, clock_ppm = 12 }
receiver.read = "all"
receiver.loop_ms = 0.1
receiver.boot_s = 0.1
receiver.clock_ppm = -8
receiver.work = [{ every_ms = 100, takes_ms = 20 }]
"""
"""Three frames of drive fill the FIFO within 4.6 to 6.9 ms of work."""


def with_keys(text: str, *overrides: str) -> Scenario:
    return parse(text, overrides=overrides)


def lost(scenario: Scenario, start: int) -> int:
    fates = simulate(scenario, start=start).attempts["fate"]
    return int(((fates == DEAF) | (fates == COLLISION)).sum())


@given(
    retries=st.integers(0, 3),
    delay_us=st.sampled_from([500, 750, 1500]),
    takes_us=st.integers(100, 9_000),
)
def test_a_grid_takes_a_frame_whose_every_attempt_it_meets(
    retries: int, delay_us: int, takes_us: int
) -> None:
    """Frame by frame: places of the first attempt, in steps of a microsecond, that none leaves."""
    given = with_keys(
        DEAF_SPANS,
        "transmitter.drive.acknowledge=true",
        f"transmitter.drive.retry_limit={retries}",
        f"transmitter.drive.retry_delay_us={delay_us}",
    )
    plan = make_plan(given, 1)
    tx, (deaf, *_) = plan.tx[0], plan.grids
    grid = msgspec.structs.replace(deaf, takes_ns=1_000 * takes_us)
    # The settle time follows the delay.
    later_ns = [k * (tx.frame_ns + 1_000 * delay_us + tx.settle_ns) for k in range(retries + 1)]
    taken = sum(
        all(at_ns + later < grid.takes_ns and at_ns + later + tx.frame_ns > 0 for later in later_ns)
        for at_ns in range(-tx.frame_ns, grid.takes_ns, 1_000)
    )

    assert grid_window_ns(plan.tx, 0, grid) == pytest.approx(1_000 * taken, abs=2_000)


@pytest.mark.parametrize("text", [DEAF_SPANS, BEACONS])
@pytest.mark.parametrize(
    "overrides",
    [
        (),
        ("transmitter.drive.period_ms=40",),
        ("transmitter.drive.prepare_us=900",),
        ("transmitter.drive.start_s=4",),
        ("transmitter.drive.period_ms=19.999",),
    ],
)
def test_every_third_start_meets_the_grid(text: str, overrides: tuple[str, ...]) -> None:
    scenario = with_keys(text, *overrides)

    for start in range(0, 30, EVERY):
        assert make_plan(scenario, start).phases.made_for == (0, 1)
        assert lost(scenario, start) > 0


def test_a_grid_with_a_fixed_offset_is_met_too() -> None:
    scenario = with_keys(DEAF_SPANS, "receiver.deaf[0].offset_ms=3", "receiver.boot_s=0.5")

    for start in range(0, 15, EVERY):
        assert lost(scenario, start) > 0


@pytest.mark.parametrize("text", [DEAF_SPANS, BEACONS])
def test_ordinary_starts_are_drawn_as_ever(text: str) -> None:
    plain = with_keys(text, "transmitter.drive.offset_ms=3")
    for start in (1, 2, 4, 5):
        made = make_plan(with_keys(text), start)

        assert made.phases.made_for is None
        assert made.rx == make_plan(plain, start).rx


@pytest.mark.parametrize(
    ("text", "override"),
    [
        (DEAF_SPANS, "transmitter.drive.period_ms=23"),
        (DEAF_SPANS, "transmitter.drive.period_ms=10"),
        (DEAF_SPANS, "transmitter.drive.pacing='elapsed'"),
        (DEAF_SPANS, "transmitter.drive.jitter_ms=12"),
        (DEAF_SPANS, "transmitter.drive.dither_ms=6"),
        (DEAF_SPANS, "transmitter.drive.acknowledge=true"),
        (DEAF_SPANS, "transmitter.drive.offset_ms=3"),
        (BEACONS, "interferer.hall.power_dbm_at_receiver=-120"),
        (BEACONS, "interferer.hall.channel_mhz=2410"),
        (BEACONS, "interferer.hall.beacon_every_ms=102.4"),
    ],
)
def test_grids_that_starve_nobody_get_no_help(text: str, override: str) -> None:
    for start in range(6):
        assert make_plan(with_keys(text, override), start).phases.made_for is None


@pytest.mark.parametrize("text", [DEAF_SPANS, BEACONS])
def test_averages_are_those_of_ordinary_starts(text: str) -> None:
    """Over random phase a frame of length a meets a span of length b with chance (a + b) / T.

    Source: two periodic schedules, as of two transmitters (facts 5)."""
    scenario = with_keys(text, "duration_s=10")
    found = simulate_starts(scenario, count=150).figures.stream["drive"]
    frame_ns = make_plan(scenario, 1).tx[0].frame_ns
    expected = 1 - (frame_ns + 1_000_000) / 20_000_000

    assert isinstance(found.delivery_ratio_ci95, tuple)
    assert found.delivery_ratio is not None
    half = (found.delivery_ratio_ci95[1] - found.delivery_ratio_ci95[0]) / 2
    # The receiver boots for the first 0.1 s of 10, which takes one value in a hundred.
    assert found.delivery_ratio == pytest.approx(expected, abs=4 / 1.96 * half + 0.015)
    assert found.read / found.sampled < expected - 0.1


def full(scenario: Scenario, start: int) -> float:
    """Share of head's attempts that find the FIFO full, of those that meet none of drive's."""
    attempts = simulate(scenario, start=start).attempts
    head = attempts["fate"][attempts["stream"] == 1]
    return float((head == FULL).sum() / (head != COLLISION).sum())


def test_work_that_outlasts_the_fifo_starves_for_good_what_comes_late_in_it() -> None:
    scenario = with_keys(WORK)
    placed = [full(scenario, start) for start in range(0, 36, EVERY)]

    assert all(make_plan(scenario, start).phases.made_for == (1, 2) for start in (0, 3, 6))
    # What comes 4.6 to 6.9 ms into it is lost now and then; what comes later, always.
    assert all(share > 0.05 for share in placed)
    assert sum(share > 0.95 for share in placed) >= len(placed) * 2 / 3


def test_work_takes_as_many_frames_as_the_time_for_which_the_fifo_is_full_says() -> None:
    """20 ms of 100 less the 4.6 to 6.9 ms that three frames at 2.3 ms take to come; collisions with
    drive's frames, of 128 us both, take their share of what is left."""
    found = simulate_starts(with_keys(WORK), count=150).figures.stream["head"]

    assert isinstance(found.delivery_ratio_ci95, tuple)
    assert found.delivery_ratio is not None
    half = (found.delivery_ratio_ci95[1] - found.delivery_ratio_ci95[0]) / 2
    expected = (1 - (20 - 5.75) / 100) * (1 - 2 * 0.128 / 2.3)
    assert found.delivery_ratio == pytest.approx(expected, abs=4 / 1.96 * half)


@pytest.mark.parametrize(
    "override",
    [
        "receiver.work=[{every_ms=100, takes_ms=4.5}]",
        "receiver.interrupt=true",
        "transmitter.head.period_ms=150",
        "transmitter.drive.period_ms=11",
    ],
)
def test_work_that_the_fifo_outlasts_starves_nobody(override: str) -> None:
    for start in range(6):
        assert make_plan(with_keys(WORK, override), start).phases.made_for is None


def test_work_that_retries_outlast_starves_nobody() -> None:
    units = [f"transmitter.{name}.acknowledge=true" for name in ("drive", "head")]
    retries = ("transmitter.head.retry_limit=15", "transmitter.head.retry_delay_us=4000")
    scenario = with_keys(WORK, *units, *retries)
    without = with_keys(WORK, *units, *retries, "receiver.acknowledge_when_full=true")

    assert all(make_plan(scenario, start).phases.made_for is None for start in range(6))
    assert make_plan(without, 0).phases.made_for == (1, 2)


@pytest.mark.parametrize("text", [DEAF_SPANS, BEACONS])
def test_few_starts_without_a_beat_judge_nothing(text: str) -> None:
    asked = "requirement=[{figure='stream.drive.gap_ms.max', at_most=400}]"
    scenario = with_keys(text, asked, "transmitter.drive.offset_ms='drawn'")
    quiet = next(start for start in range(1, 50) if start % EVERY and not lost(scenario, start))

    found = simulate_starts(scenario, first=quiet, count=1)

    assert found.requirements[0].ok is None
    assert found.requirements[0].why.startswith("too short: two clocks of the link")


@given(scenario=scenarios, start=st.integers(0, 1000))
@examples(60)
def test_every_start_of_a_scenario_knows_the_same_pairs(scenario: Scenario, start: int) -> None:
    one, other = make_plan(scenario, start), make_plan(scenario, start + 1)

    assert len(one.phases.densities) == len(other.phases.densities)
    assert len(seen_beats(one)) == len(seen_beats(other))


def test_an_interferers_grid_is_that_of_its_frames_not_of_the_shorter_acknowledgements() -> None:
    sender = (
        "interferer.hall={kind='transmitter', channel_mhz=2468, period_ms=20, payload_bytes=32}"
    )
    scenario = with_keys(BEACONS, "interferer={}", sender, "radio.channel=68")
    grids = named_grids(scenario, make_plan(scenario, 0))

    # 1 + 5 + 32 + 2 bytes at 1 Mbit/s, and a control field of 9 bits (PS 7.3).
    assert grids["interferer.hall"].takes_ns == 329_000
