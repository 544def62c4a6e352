"""Tallies pool: counts add, extremes stay extremes."""

import msgspec
import numpy as np
import pytest

from radiosim.engine.simulate import simulate
from radiosim.measure.figures import figures_of, flat
from radiosim.measure.histogram import Histogram
from radiosim.measure.start import tally_start
from radiosim.measure.summarise import pool_starts
from radiosim.measure.summary import Figures
from radiosim.measure.tally import Fate, Range, StartTally, pooled
from tests.traces import scenario_with

SCENARIO = scenario_with(
    "duration_s=0.5",
    "air.loss=0.3",
    "transmitter.drive.offset_ms='drawn'",
    "transmitter.head.period_ms=23",
    "failsafe.drive.timeout_ms=30",
    "output.track.servo={travel_deg=180}",
    "fault=[{at_s=0.2, for_s=0.1, kind='power_off', unit='drive'}]",
)


@pytest.fixture(scope="module")
def tallies() -> list[StartTally]:
    return [tally_start(simulate(SCENARIO, start=start)) for start in range(3)]


def pooled_figures(tallies: list[StartTally]) -> Figures:
    starts = Range(first=tallies[0].start, count=len(tallies))
    return figures_of(SCENARIO, pool_starts(SCENARIO, starts, tallies))


def test_counts_add_up(tallies: list[StartTally]) -> None:
    streams = [tally.streams["drive"] for tally in tallies]
    total = pooled(streams)

    for name in ("sampled", "attempts", "read", "lost_chance", "never_accepted", "on_air_ns"):
        assert getattr(total, name) == sum(getattr(stream, name) for stream in streams), name


def test_extremes_stay_extremes(tallies: list[StartTally]) -> None:
    streams = [tally.streams["drive"] for tally in tallies]

    assert pooled(streams).longest_gap_ns == max(stream.longest_gap_ns or 0 for stream in streams)
    outputs = [tally.outputs["track"] for tally in tallies]
    assert pooled(outputs).longest_hold_ns == max(o.longest_hold_ns or 0 for o in outputs)


def test_the_fewest_updates_are_those_of_the_worst_start(tallies: list[StartTally]) -> None:
    stream = tallies[0].streams["drive"]
    starts = [
        msgspec.structs.replace(stream, worst_second_updates=count) for count in (40, None, 12, 50)
    ]

    assert pooled(starts).worst_second_updates == 12
    assert pooled(starts[1:2]).worst_second_updates is None


def test_spreads_pool_as_if_they_were_one(tallies: list[StartTally]) -> None:
    parts = [tally.streams["drive"].gap for tally in tallies]
    total: Histogram = pooled([tally.streams["drive"] for tally in tallies]).gap

    assert total.n == sum(part.n for part in parts)
    assert np.array_equal(total.weights, parts[0].weights + parts[1].weights + parts[2].weights)


def test_timers_pool_with_their_stream(tallies: list[StartTally]) -> None:
    parts = [tally.streams["drive"].failsafe for tally in tallies]
    total = pooled([tally.streams["drive"] for tally in tallies]).failsafe

    assert total is not None
    assert total.on_ns == sum(part.on_ns for part in parts if part is not None)
    assert pooled([tally.streams["head"] for tally in tallies]).failsafe is None


def test_one_start_has_no_intervals(tallies: list[StartTally]) -> None:
    figures = pooled_figures(tallies[:1]).stream["drive"]

    assert figures.update_rate_hz_ci95 is msgspec.UNSET
    assert figures.delivery_ratio_ci95 is msgspec.UNSET


def test_several_starts_have_intervals_round_their_figures(tallies: list[StartTally]) -> None:
    figures = pooled_figures(tallies).stream["drive"]
    interval = figures.update_rate_hz_ci95

    assert isinstance(interval, tuple)
    assert interval[0] <= figures.update_rate_hz <= interval[1]
    assert figures.failsafe is not None
    assert isinstance(figures.failsafe.nuisance_per_hour_ci95, tuple)


def test_figures_say_what_the_counts_say(tallies: list[StartTally]) -> None:
    figures = pooled_figures(tallies)
    drive = figures.stream["drive"]

    assert drive.delivery_ratio == drive.read / drive.sampled
    assert drive.update_rate_hz == pytest.approx(drive.read / 1.5)
    assert drive.attempts_per_frame == drive.attempts / drive.sent
    assert drive.gap_ms.max == drive.gap_ms.max
    assert drive.sampled == (
        drive.read
        + drive.waiting
        + drive.thrown_away
        + drive.never_accepted
        + drive.skipped
        + drive.replaced
        + drive.queue_full
        + drive.power_cut
        + drive.under_way
    )
    assert figures.air.collisions == sum(s.lost_collision for s in figures.stream.values())


def test_a_fault_is_as_slow_as_its_slowest_start(tallies: list[StartTally]) -> None:
    found = pooled_figures(tallies).faults[0]
    detected = [tally.faults[0].outputs["track"].reaction_ns for tally in tallies]

    assert min(detected) > 0
    assert found.reaction_ms == pytest.approx(max(detected) / 1e6)
    assert found.starts_without_reaction == 0
    assert found.outputs["track"].reaction_ms == found.reaction_ms


def test_a_fault_that_one_start_never_saw_has_no_figure(tallies: list[StartTally]) -> None:
    fault = tallies[0].faults[0]
    blind = msgspec.structs.replace(fault.outputs["track"], reaction_ns=-1, fate=Fate.NEVER_CAME)
    seen = msgspec.structs.replace(fault, outputs={"track": blind})
    starts = [msgspec.structs.replace(tallies[0], faults=(seen,)), *tallies[1:]]

    found = pooled_figures(starts).faults[0]

    assert found.reaction_ms is None
    assert found.starts_without_reaction == 1
    assert found.outputs["track"].fates == {"never came": 1, "came": 2}
    assert found.recovered_ms is not None


def test_flat_figures_are_numbers_by_their_paths(tallies: list[StartTally]) -> None:
    found = flat(pooled_figures(tallies[:1]))

    assert found["stream.drive.read"] == tallies[0].streams["drive"].read
    assert "stream.drive.failsafe.nuisance_trips" in found
    assert "stream.drive.gap_ms.p99" in found
    assert "output.track.servo_error_deg.max" in found
    assert "output.pan.servo_error_deg.max" not in found
    assert not any(path.startswith("faults") for path in found)
