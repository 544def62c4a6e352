"""Where every sampled frame ended."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.simulate import simulate
from radiosim.measure.accounting import PLACES, account
from radiosim.measure.start import tally_start
from radiosim.measure.tally import StreamTally
from radiosim.trace import (
    ACKNOWLEDGED,
    KEPT,
    LOST,
    POWER_CUT,
    QUEUE_FULL,
    READ,
    REPLACED,
    RETRIES_USED_UP,
    SENT,
    SKIPPED,
    THROWN_AWAY,
    UNDER_WAY,
    WAITING,
    FrameRow,
)
from tests.examples import examples
from tests.traces import read, scenario_with, trace_of


def frame(number: int, outcome: int, attempts: int = 1, stream: int = 0) -> FrameRow:
    return FrameRow(stream, number, attempts, 0, 0, number, 0, outcome)


def tally(frames: list[FrameRow], *reads: tuple[int, int]) -> StreamTally:
    rows = [read(10 * k, number, outcome=outcome) for k, (number, outcome) in enumerate(reads)]
    return tally_start(trace_of(scenario_with(), rows, frames=list(frames))).streams["drive"]


def places(found: StreamTally) -> dict[str, int]:
    """The places at which frames ended, and how many of them."""
    counts = {name: getattr(found, name.replace(" ", "_")) for name in PLACES}
    assert sum(counts.values()) == found.sampled
    return {name: count for name, count in counts.items() if count}


def place_of(*rows: FrameRow, reads: tuple[tuple[int, int], ...] = ()) -> str:
    (place,) = places(tally(list(rows), *reads))
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

    assert places(tally([frame(0, RETRIES_USED_UP)], *reads)) == {"read": 1}


def test_kept_is_not_the_last_word() -> None:
    assert place_of(frame(0, KEPT, 4), frame(0, KEPT, 8), frame(0, ACKNOWLEDGED, 9)) == (
        "never accepted"
    )
    assert place_of(frame(0, KEPT, 4), frame(0, UNDER_WAY, 8)) == "under way"


def test_frames_may_end_in_any_order() -> None:
    rows = [frame(1, SKIPPED, 0), frame(0, QUEUE_FULL, 0), frame(2, REPLACED, 0)]

    assert places(tally(rows)) == {"queue full": 1, "skipped": 1, "replaced": 1}


def test_a_frame_under_way_behind_one_that_was_read_is_still_under_way() -> None:
    rows = [frame(0, ACKNOWLEDGED), frame(1, UNDER_WAY), frame(2, UNDER_WAY, 0)]

    assert places(tally(rows, (0, READ))) == {"read": 1, "under way": 2}
    assert places(tally(rows, (0, READ), (1, WAITING))) == {
        "read": 1,
        "waiting": 1,
        "under way": 1,
    }


def test_another_streams_frames_are_not_counted() -> None:
    found = tally([frame(0, SENT), frame(0, SKIPPED, 0, stream=1)])

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
