"""Beat starts: which they are, what they show, how they are weighted."""

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import simulate
from radiosim.engine.stratification import (
    EVERY,
    Phases,
    beat_of,
    component,
    shares_of,
    slip_ns,
    weight_of,
)
from radiosim.engine.unit_spans import first_boot_ns, shared_ns
from radiosim.scenario import Scenario, parse
from radiosim.trace import COLLISION

SCENARIO = """
duration_s = 20
radio.profile = "gfsk-1M"
air.loss = 0.0
transmitter.drive = { period_ms = 20, payload_bytes = 6, acknowledge = false, clock_ppm = 12 }
transmitter.head = { period_ms = 20, payload_bytes = 4, acknowledge = false, clock_ppm = -8 }
"""


def scenario_with(*overrides: str) -> Scenario:
    return parse(SCENARIO, overrides=overrides)


def collisions(scenario: Scenario, start: int) -> int:
    return int((simulate(scenario, start=start).attempts["fate"] == COLLISION).sum())


@pytest.mark.parametrize(
    "overrides",
    [
        (),
        ("transmitter.head.clock_ppm=32",),
        ("transmitter.head.period_ms=40",),
        ("transmitter.drive.period_ms=60",),
        ("transmitter.drive.offset_ms=7",),
        ("transmitter.head.offset_ms=7", "transmitter.head.period_ms=40"),
        ("transmitter.head.offset_ms=7", "transmitter.drive.period_ms=40"),
        ("transmitter.head.start_s=4",),
        ("transmitter.drive.acknowledge=true", "transmitter.head.acknowledge=true"),
    ],
)
def test_every_third_start_sees_the_clocks_meet(overrides: tuple[str, ...]) -> None:
    scenario = scenario_with(*overrides)

    for start in range(0, 30, EVERY):
        assert make_plan(scenario, start).phases.made_for == (0, 1)
        # At the very ends of the phases that meet an acknowledged frame is spared by a hair.
        if "true" not in "".join(overrides):
            assert collisions(scenario, start) > 0


def test_ordinary_starts_are_drawn_as_ever() -> None:
    plain, made = scenario_with(), scenario_with("transmitter.head.period_ms=23")

    for start in (1, 2, 4, 5):
        offsets = [tx.offset_ns for tx in make_plan(plain, start).tx]
        assert make_plan(plain, start).phases.made_for is None
        assert offsets[0] == make_plan(made, start).tx[0].offset_ns


@pytest.mark.parametrize(
    "override",
    [
        "transmitter.head.period_ms=23",
        "transmitter.head.pacing='elapsed'",
        "transmitter.head.jitter_ms=12",
        "transmitter.head.dither_ms=1",
        "transmitter.head.clock_ppm=8000",
        "duration_s=3600",
    ],
)
def test_pairs_that_need_no_help_get_none(override: str) -> None:
    for start in range(6):
        phases = make_plan(scenario_with(override), start).phases

        assert phases.made_for is None
        assert set(phases.densities) <= {1.0}


def test_fixed_phases_are_left_alone() -> None:
    fixed = scenario_with("transmitter.drive.offset_ms=3", "transmitter.head.offset_ms=9")

    assert make_plan(fixed, 0).phases == Phases(made_for=None, densities=())
    assert [tx.offset_ns for tx in make_plan(fixed, 0).tx] == [3_000_000, 9_000_000]


def test_each_pair_has_its_turn() -> None:
    three = scenario_with(
        "transmitter.arm={period_ms=20, payload_bytes=4, acknowledge=false, clock_ppm=3}"
    )

    made = [make_plan(three, start).phases.made_for for start in range(0, 18, 3)]

    assert made == [(0, 1), (0, 2), (1, 2)] * 2


def test_offsets_stay_within_their_period() -> None:
    for override in ("duration_s=20", "transmitter.head.period_ms=40"):
        for start in range(60):
            for tx in make_plan(scenario_with(override), start).tx:
                assert 0 <= tx.offset_ns < tx.period_ns


@given(
    first_ppm=st.integers(-60, 60),
    second_ppm=st.integers(-60, 60),
    start=st.integers(0, 3000),
    seconds=st.integers(1, 400),
)
def test_a_start_is_met_just_when_its_schedules_touch(
    first_ppm: int, second_ppm: int, start: int, seconds: int
) -> None:
    scenario = scenario_with(
        f"transmitter.drive.clock_ppm={first_ppm}",
        f"transmitter.head.clock_ppm={second_ppm}",
        f"duration_s={seconds}",
    )
    plan = make_plan(scenario, start)
    bases = [first_boot_ns(plan.steps, unit) for unit in (0, 1)]
    met = beat_of(plan.tx, bases, (0, 1), shared_ns(plan.steps, 0, 1, plan.until_ns))

    # Frame by frame: the distance of the two schedules, on the circle of a period.
    period = met.period_ns
    slip = slip_ns(period * (1 + abs(first_ppm - second_ppm) * 1e-6), period)
    long, short = plan.tx[met.long], plan.tx[met.short]
    frames = int(seconds * 1e9 / long.period_ns)
    distances = [(met.phase_ns + n * slip) % period for n in range(frames)]
    touches = [d < short.frame_ns or d > period - long.frame_ns for d in distances]

    near = min(min(abs(d - short.frame_ns), abs(d - period + long.frame_ns)) for d in distances)
    # Clear of ties, which one frame more or less decides.
    if near > abs(slip) + 10:
        assert any(touches) == (met.is_met or met.share == 1)


@given(
    densities=st.lists(st.floats(0, 50), min_size=1, max_size=3),
    first=st.integers(0, 100),
    count=st.integers(2, 300),
)
def test_no_start_weighs_more_than_the_ordinary_ones_make_up_for(
    densities: list[float], first: int, count: int
) -> None:
    shares = shares_of(first, count, len(densities))
    weight = weight_of(Phases(made_for=None, densities=tuple(densities)), shares)

    assert sum(shares) == pytest.approx(1)
    assert 0 < weight <= 1 / shares[0] * (1 + 1e-12)


@given(first=st.integers(0, 1000), count=st.integers(1, 200), pairs=st.integers(1, 3))
def test_shares_are_those_of_the_starts_that_are_run_wherever_they_begin(
    first: int, count: int, pairs: int
) -> None:
    """Counted by the rule in words: every third start, each pair in turn."""
    kinds = [
        (start // EVERY) % pairs if start % EVERY == 0 else -1
        for start in range(first, first + count)
    ]

    shares = shares_of(first, count, pairs)

    assert shares == tuple(kinds.count(kind) / count for kind in (-1, *range(pairs)))
    # Weights of a mixture of its own densities come to one on average.
    densities = [
        tuple(float(kind == pair) * pairs for pair in range(pairs)) for kind in range(pairs)
    ]
    if shares[0]:
        weights = [weight_of(Phases(made_for=None, densities=own), shares) for own in densities]
        mixed = [shares[0] + shares[1 + kind] * pairs for kind in range(pairs)]
        assert weights == pytest.approx([1 / each for each in mixed])


def test_a_start_alone_counts_once() -> None:
    phases = make_plan(scenario_with(), 0).phases

    assert weight_of(phases, shares_of(0, 1, 1)) == 1
    assert component(0, 1) == 0
    assert component(1, 1) == -1


def test_weights_average_to_one() -> None:
    # Each is 1 over a density of the mixture: over many starts they make up for each other.
    scenario = msgspec.structs.replace(scenario_with(), duration_s=30.0)
    shares = shares_of(0, 1000, 1)
    weights = [weight_of(make_plan(scenario, k).phases, shares) for k in range(1000)]

    # A beat start weighs about 0.2, another 1.5: standard error 0.3 / 32; 4 of them.
    assert sum(weights) / len(weights) == pytest.approx(1, abs=0.04)
