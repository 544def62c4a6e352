"""A beat of clocks that trips a failsafe is named, and its period cures it."""

from radiosim.scenario import parse
from radiosim.study.drill.beats import beats_of, clear_period_ms
from radiosim.study.drill.trade_off import trips_of
from radiosim.study.tune.period_pairs import pairs_of

PAIR = """
duration_s = 600
radio.profile = "gfsk-1M"
air.loss = 0
[transmitter.drive]
payload_bytes = 12
period_ms = 20
acknowledge = false
clock_ppm = 0
[transmitter.head]
payload_bytes = 12
period_ms = HEAD_MS
acknowledge = false
clock_ppm = 10
[failsafe.drive]
timeout_ms = 250
"""


def test_equal_periods_trip_and_another_period_ends_it() -> None:
    made = parse(PAIR.replace("HEAD_MS", "20"))
    trips = [trips_of(made, start, "auto", (250.0,)) for start in range(4)]
    [beat] = beats_of(made, (250.0,), trips, "auto")

    assert (beat.stream, {beat.first, beat.second}) == ("drive", {"drive", "head"})
    assert beat.left == 0 < beat.trips
    cured = parse(PAIR.replace("HEAD_MS", "20"), overrides=[beat.set])
    assert not any(pair.is_beating for pair in pairs_of(cured))


def test_deaf_spans_at_the_same_rate_trip_and_another_period_ends_it() -> None:
    made = parse(
        PAIR.replace("HEAD_MS", "33").replace("loss = 0", "loss = 0.01"),
        overrides=["receiver.deaf=[{every_ms=20, for_ms=1}]", "transmitter.drive.clock_ppm=90"],
    )
    trips = [trips_of(made, start, "auto", (250.0,)) for start in range(4)]
    [beat] = beats_of(made, (250.0,), trips, "auto")

    assert (beat.stream, beat.first, beat.second) == ("drive", "drive", "receiver.deaf[0]")
    assert beat.left == 0 < beat.trips
    assert beat.set.startswith("transmitter.drive.period_ms=")
    cured = parse(PAIR.replace("HEAD_MS", "33"), overrides=[beat.set])
    assert not any(pair.is_beating for pair in pairs_of(cured))


def test_periods_that_pass_each_other_are_not_blamed() -> None:
    lossy = parse(PAIR.replace("HEAD_MS", "23").replace("loss = 0", "loss = 0.7"))
    trips = [trips_of(lossy, start, "auto", (250.0,)) for start in range(2)]

    assert sum(found.counts["drive"][0] for found in trips) > 3
    assert list(beats_of(lossy, (250.0,), trips, "auto")) == []


def test_a_clear_period_is_the_nearest_that_beats_with_none() -> None:
    assert clear_period_ms(parse(PAIR.replace("HEAD_MS", "20")), "head") == 21
