"""Figures of one stream, on traces written by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.simulate import simulate
from radiosim.measure.of_stream import account
from radiosim.measure.start import tally_start
from radiosim.measure.stream_rows import PLACES
from radiosim.measure.tally import StreamTally
from radiosim.trace import (
    ACK_CHANCE,
    ACK_COLLISION,
    ACKNOWLEDGED,
    CHANCE,
    COLLISION,
    CUT,
    DEAF,
    DUPLICATE,
    FULL,
    KEPT,
    LOST,
    NEW,
    OFF,
    POWER_CUT,
    QUEUE_FULL,
    READ,
    REPLACED,
    RETRIES_USED_UP,
    SENT,
    SKIPPED,
    TAKEN,
    THROWN_AWAY,
    UNDER_WAY,
    UNHEARD,
    WAITING,
    AcknowledgementRow,
    AttemptRow,
    FrameRow,
    Trace,
)
from radiosim.units import NS_PER_MS, NS_PER_S
from tests.examples import examples
from tests.traces import read, scenario_with, trace_of


def tally(trace: Trace) -> StreamTally:
    return tally_start(trace).streams["drive"]


def attempt(frame: int, number: int, fate: int, stream: int = 0) -> AttemptRow:
    start_ns = frame * 20 * NS_PER_MS + number * NS_PER_MS
    return AttemptRow(stream, frame, number, 0, frame & 3, start_ns, start_ns + 100_000, fate)


def test_every_fate_has_its_count() -> None:
    fates = [NEW, NEW, DUPLICATE, FULL, OFF, DEAF, DEAF, COLLISION, CHANCE, CHANCE, CHANCE, CUT]
    rows = [attempt(0, number, fate) for number, fate in enumerate(fates)]
    others = [attempt(0, 1, CHANCE, stream=1)] * 5

    found = tally(trace_of(scenario_with(), attempts=[*rows, *others]))

    assert found.attempts == 12
    assert found.sent == 1
    assert (found.received_new, found.duplicates, found.fifo_dropped) == (2, 1, 1)
    assert (found.lost_off, found.lost_deaf, found.lost_collision) == (1, 2, 1)
    assert (found.lost_chance, found.lost_range) == (3, 0)
    assert found.on_air_ns == 1_200_000


def test_a_duplicate_is_a_repeat_of_what_was_accepted_or_a_frame_mistaken() -> None:
    repeat = [attempt(0, 0, NEW), attempt(0, 1, DUPLICATE), attempt(0, 2, DUPLICATE)]
    mistaken = [attempt(4, 0, DUPLICATE), attempt(4, 1, DUPLICATE)]
    other = [attempt(3, 0, NEW, stream=1), attempt(3, 1, DUPLICATE, stream=1)]
    rows = [*repeat, *other, *mistaken]

    assert tally(trace_of(scenario_with(), attempts=[*repeat, *other])).mistaken == 0
    assert tally(trace_of(scenario_with(), attempts=rows)).mistaken == 2


def test_every_outcome_has_its_count() -> None:
    outcomes = [ACKNOWLEDGED, ACKNOWLEDGED, RETRIES_USED_UP]
    rows = [FrameRow(0, n, 1, 0, 0, n, 0, outcome) for n, outcome in enumerate(outcomes)]
    kept = [FrameRow(0, 3, 4, 0, 0, 3, 0, KEPT), FrameRow(0, 3, 8, 0, 0, 3, 0, RETRIES_USED_UP)]

    found = tally(trace_of(scenario_with(), frames=[*rows, *kept]))

    assert (found.sampled, found.acknowledged, found.retries_used_up) == (4, 2, 3)


def test_an_acknowledgement_that_nobody_took_is_lost() -> None:
    fates = [TAKEN, ACK_COLLISION, ACK_CHANCE, UNHEARD]
    rows = [AcknowledgementRow(0, n, 1, 0, 73_000, fate, 0) for n, fate in enumerate(fates)]
    other = AcknowledgementRow(1, 0, 1, 0, 73_000, ACK_CHANCE, 0)

    assert (
        tally(trace_of(scenario_with(), acknowledgements=[*rows, other])).acknowledgements_lost == 3
    )


def test_latency_is_from_sample_to_read() -> None:
    found = tally(
        trace_of(scenario_with(), [read(10, 0, sampled_ms=4), read(30, 1, sampled_ms=28)])
    )

    latency = found.latency.distribution(NS_PER_MS)
    assert (latency.n, latency.mean, latency.max) == (2, 4.0, 6.0)


def test_frames_thrown_away_are_no_updates() -> None:
    found = tally(
        trace_of(scenario_with(), [read(10, 0, outcome=THROWN_AWAY), read(10, 1), read(400, 2)])
    )

    assert found.gap.n == 3
    assert found.longest_gap_ns == 1_600 * NS_PER_MS
    assert found.longest_gap_at_ns == 400 * NS_PER_MS


def test_a_hole_may_be_in_the_middle() -> None:
    rows = [read(at, n) for n, at in enumerate((100, 1200, 1300, 1900))]

    assert tally(trace_of(scenario_with(), rows)).longest_gap_ns == 1_100 * NS_PER_MS


def test_without_a_read_the_hole_is_the_whole_run() -> None:
    found = tally(trace_of(scenario_with()))

    assert found.longest_gap_ns == 2 * NS_PER_S
    assert found.worst_second_updates == 0
    assert found.age.n == 0


def test_age_grows_from_the_instant_of_the_newest_values() -> None:
    # Taken at 90 and 500, read at 100 and 510; the run ends at 2,000.
    rows = [read(100, 0, sampled_ms=90), read(510, 1, sampled_ms=500)]
    age = tally(trace_of(scenario_with(), rows)).age.distribution(NS_PER_MS)

    area = (420**2 - 10**2) / 2 + (1_500**2 - 10**2) / 2
    assert age.mean == pytest.approx(area / 1_900)
    assert age.max == 1_500


def test_an_older_frame_read_later_makes_nothing_younger() -> None:
    rows = [read(100, 0, sampled_ms=100), read(200, 1, sampled_ms=20)]
    age = tally(trace_of(scenario_with(), rows)).age.distribution(NS_PER_MS)

    assert age.mean == pytest.approx(1_900 / 2)
    assert age.max == 1_900


def test_failsafe_counts_are_those_of_the_record() -> None:
    scenario = scenario_with("fault=[{at_s=0.45, for_s=0.02, kind='power_off', unit='drive'}]")
    found = tally(trace_of(scenario, [read(200, 0), read(400, 1)])).failsafe

    assert found is not None
    assert (found.nuisance_trips, found.trips_on_fault) == (1, 1)
    assert found.on_ns == (99 + 1_499) * NS_PER_MS


instants_ms = st.lists(st.integers(0, 3_999), max_size=60, unique=True).map(sorted)


def first_sampled_ms(reads_ms: list[int]) -> float:
    """Half way to the first read."""
    return reads_ms[0] // 2 if reads_ms else 0


def read_at(reads_ms: list[int]) -> Trace:
    """A trace of four seconds with reads at some instants."""
    rows = [
        read(at, n, sampled_ms=first_sampled_ms(reads_ms) if n == 0 else at)
        for n, at in enumerate(reads_ms)
    ]
    return trace_of(scenario_with("duration_s=4"), rows)


@given(instants_ms)
def test_gaps_cover_the_run_from_where_values_can_come(reads_ms: list[int]) -> None:
    gap = tally(read_at(reads_ms)).gap

    assert gap.moment == (4_000 - first_sampled_ms(reads_ms)) * NS_PER_MS
    assert gap.n == len(reads_ms) + 1


def test_the_wait_for_the_first_value_is_a_gap() -> None:
    found = tally(trace_of(scenario_with(), [read(1_500, 0, sampled_ms=300), read(1_900, 1)]))

    assert found.longest_gap_ns == 1_200 * NS_PER_MS
    assert found.longest_gap_at_ns == 300 * NS_PER_MS


@given(instants_ms)
def test_the_worst_second_is_the_emptiest(reads_ms: list[int]) -> None:
    first = first_sampled_ms(reads_ms)
    counts = [
        sum(first + 1_000 * k <= at < first + 1_000 * (k + 1) for at in reads_ms)
        for k in range(int(4_000 - first) // 1_000)
    ]

    assert tally(read_at(reads_ms)).worst_second_updates == min(counts, default=None)


spans = st.lists(st.tuples(st.integers(0, 300), st.integers(1, 60)), max_size=20)


@given(spans, spans)
def test_the_air_is_busy_where_anything_is_on_it(
    frames: list[tuple[int, int]], back: list[tuple[int, int]]
) -> None:
    # An engine writes a row down as what it tells of is over.
    frames, back = (sorted(rows, key=lambda row: row[0] + row[1]) for rows in (frames, back))
    attempts: list[tuple[int, ...]] = [
        AttemptRow(0, 0, 0, 0, 0, at, at + length, NEW) for at, length in frames
    ]
    acknowledgements: list[tuple[int, ...]] = [
        AcknowledgementRow(0, 0, 0, at, at + length, TAKEN, 1) for at, length in back
    ]
    busy = {at + k for at, length in frames + back for k in range(length)}

    trace = trace_of(scenario_with(), attempts=attempts, acknowledgements=acknowledgements)
    assert tally_start(trace).busy_ns == len(busy)


def frame(number: int, outcome: int, attempts: int = 1, stream: int = 0) -> FrameRow:
    return FrameRow(stream, number, attempts, 0, 0, number, 0, outcome)


def tally_of_accounting(frames: list[FrameRow], *reads: tuple[int, int]) -> StreamTally:
    rows = [read(10 * k, number, outcome=outcome) for k, (number, outcome) in enumerate(reads)]
    return tally_start(trace_of(scenario_with(), rows, frames=list(frames))).streams["drive"]


def places(found: StreamTally) -> dict[str, int]:
    """The places at which frames ended, and how many of them."""
    counts = {name: getattr(found, name.replace(" ", "_")) for name in PLACES}
    assert sum(counts.values()) == found.sampled
    return {name: count for name, count in counts.items() if count}


def place_of(*rows: FrameRow, reads: tuple[tuple[int, int], ...] = ()) -> str:
    (place,) = places(tally_of_accounting(list(rows), *reads))
    return place


@pytest.mark.parametrize(
    ("outcome", "attempts", "place"),
    [
        (SKIPPED, 0, "skipped"),
        (REPLACED, 0, "replaced"),
        (QUEUE_FULL, 0, "queue full"),
        (POWER_CUT, 0, "power cut"),
        (POWER_CUT, 2, "never accepted"),
        (RETRIES_USED_UP, 4, "never accepted"),
        (SENT, 1, "never accepted"),
        (ACKNOWLEDGED, 1, "never accepted"),
        (UNDER_WAY, 0, "under way"),
        (UNDER_WAY, 2, "under way"),
    ],
)
def test_a_frame_that_never_stood_in_the_fifo(outcome: int, attempts: int, place: str) -> None:
    assert place_of(frame(0, outcome, attempts)) == place


@pytest.mark.parametrize(
    ("outcome", "place"),
    [
        (READ, "read"),
        (WAITING, "waiting"),
        (THROWN_AWAY, "thrown away"),
        (LOST, "thrown away"),
    ],
)
@pytest.mark.parametrize(
    "at_transmitter", [ACKNOWLEDGED, RETRIES_USED_UP, POWER_CUT, UNDER_WAY, SENT]
)
def test_what_was_accepted_ends_at_the_receiver(
    outcome: int, place: str, at_transmitter: int
) -> None:
    assert place_of(frame(0, at_transmitter), reads=((0, outcome),)) == place


@pytest.mark.parametrize("outcomes", [(READ, THROWN_AWAY), (THROWN_AWAY, READ), (LOST, READ)])
def test_a_frame_accepted_twice_counts_once_at_the_better_place(outcomes: tuple[int, int]) -> None:
    reads = tuple((0, outcome) for outcome in outcomes)

    assert places(tally_of_accounting([frame(0, RETRIES_USED_UP)], *reads)) == {"read": 1}


def test_kept_is_not_the_last_word() -> None:
    assert place_of(frame(0, KEPT, 4), frame(0, KEPT, 8), frame(0, ACKNOWLEDGED, 9)) == (
        "never accepted"
    )
    assert place_of(frame(0, KEPT, 4), frame(0, UNDER_WAY, 8)) == "under way"


def test_frames_may_end_in_any_order() -> None:
    rows = [frame(1, SKIPPED, 0), frame(0, QUEUE_FULL, 0), frame(2, REPLACED, 0)]

    assert places(tally_of_accounting(rows)) == {"queue full": 1, "skipped": 1, "replaced": 1}


def test_a_frame_under_way_behind_one_that_was_read_is_still_under_way() -> None:
    rows = [frame(0, ACKNOWLEDGED), frame(1, UNDER_WAY), frame(2, UNDER_WAY, 0)]

    assert places(tally_of_accounting(rows, (0, READ))) == {"read": 1, "under way": 2}
    assert places(tally_of_accounting(rows, (0, READ), (1, WAITING))) == {
        "read": 1,
        "waiting": 1,
        "under way": 1,
    }


def test_another_streams_frames_are_not_counted() -> None:
    found = tally_of_accounting([frame(0, SENT), frame(0, SKIPPED, 0, stream=1)])

    assert found.sampled == 1


def test_both_ends_together_count_each_frame_once() -> None:
    # Ten frames that their transmitter let go, two under way; six were accepted, one of them the
    # last.
    ended, accepted = [0, 0, 0, 10, 1, 0, 0, 0, 2], [4, 1, 1, 0, 0, 0, 0, 0, 0]

    assert account(ended, accepted, is_last_accepted=True).counts == (4, 1, 1, 5, 1, 0, 0, 0, 1)
    assert account(ended, accepted, is_last_accepted=False).counts == (4, 1, 1, 4, 1, 0, 0, 0, 2)
    assert account(ended, accepted, is_last_accepted=True).sampled == 13


@examples(25)
@given(
    st.sampled_from(["skip", "wait", "queue", "replace"]),
    st.sampled_from(["one", "all", "newest"]),
    st.booleans(),
    st.sampled_from([0.0, 0.3, 0.9]),
    st.integers(0, 3),
)
def test_every_frame_ends_in_exactly_one_place(
    when_busy: str, reading: str, flush: bool, loss: float, start: int
) -> None:
    simulated = simulate(
        scenario_with(
            "duration_s=0.4",
            f"air.loss={loss}",
            f"receiver.read='{reading}'",
            "receiver.loop_ms=9",
            "transmitter.drive.period_ms=2.5",
            f"transmitter.drive.when_busy='{when_busy}'",
            f"transmitter.drive.flush_on_retries_used_up={str(flush).lower()}",
            "fault=[{at_s=0.2011, for_s=0.05, kind='power_off', unit='drive'}]",
        ),
        start=start,
    )
    numbers = simulated.frames["frame"][simulated.frames["stream"] == 0]

    assert tally_start(simulated).streams["drive"].sampled == numbers.max() + 1
