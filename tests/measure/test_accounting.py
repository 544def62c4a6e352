"""Where every sampled frame ended."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from radiosim.engine.simulate import simulate
from radiosim.measure.accounting import PLACES, account, places
from radiosim.trace import (
    ACKNOWLEDGED,
    GIVEN_UP,
    KEPT,
    LOST,
    POWER_CUT,
    QUEUE_FULL,
    READ,
    REPLACED,
    SENT,
    SKIPPED,
    THROWN_AWAY,
    UNDER_WAY,
    WAITING,
    FrameRow,
    Trace,
)
from tests.traces import read, scene, trace_of


def frame(number: int, outcome: int, attempts: int = 1, stream: int = 0) -> FrameRow:
    return FrameRow(stream, number, attempts, 0, 0, number, 0, outcome)


def trace(frames: list[FrameRow], *reads: tuple[int, int]) -> Trace:
    rows = [read(10 * k, number, outcome=outcome) for k, (number, outcome) in enumerate(reads)]
    return trace_of(scene(), rows, frames=list(frames))


def place_of(*rows: FrameRow, reads: tuple[tuple[int, int], ...] = ()) -> str:
    return PLACES[int(places(trace(list(rows), *reads), 0)[0])]


@pytest.mark.parametrize(
    ("outcome", "attempts", "place"),
    [
        (SKIPPED, 0, "skipped"),
        (REPLACED, 0, "replaced"),
        (QUEUE_FULL, 0, "queue full"),
        (POWER_CUT, 0, "power cut"),
        (POWER_CUT, 2, "never accepted"),
        (GIVEN_UP, 4, "never accepted"),
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
@pytest.mark.parametrize("at_sender", [ACKNOWLEDGED, GIVEN_UP, POWER_CUT, UNDER_WAY, SENT])
def test_what_was_accepted_ends_at_the_receiver(outcome: int, place: str, at_sender: int) -> None:
    assert place_of(frame(0, at_sender), reads=((0, outcome),)) == place


@pytest.mark.parametrize("outcomes", [(READ, THROWN_AWAY), (THROWN_AWAY, READ), (LOST, READ)])
def test_a_frame_accepted_twice_counts_once_at_the_better_place(outcomes: tuple[int, int]) -> None:
    reads = tuple((0, outcome) for outcome in outcomes)

    assert place_of(frame(0, GIVEN_UP), reads=reads) == "read"
    assert account(trace([frame(0, GIVEN_UP)], *reads), 0).sampled == 1


def test_kept_is_not_the_last_word() -> None:
    assert place_of(frame(0, KEPT, 4), frame(0, KEPT, 8), frame(0, ACKNOWLEDGED, 9)) == (
        "never accepted"
    )
    assert place_of(frame(0, KEPT, 4), frame(0, UNDER_WAY, 8)) == "under way"


def test_frames_stand_in_order_of_their_numbers() -> None:
    rows = [frame(1, SKIPPED, 0), frame(0, QUEUE_FULL, 0), frame(2, REPLACED, 0)]

    assert [PLACES[k] for k in places(trace(rows), 0)] == ["queue full", "skipped", "replaced"]


def test_another_streams_frames_are_not_counted() -> None:
    found = account(trace([frame(0, SENT), frame(0, SKIPPED, 0, stream=1)]), 0)

    assert found.sampled == 1


@settings(max_examples=25)
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
        scene(
            "duration_s=0.4",
            f"air.loss={loss}",
            f"receiver.read='{reading}'",
            "receiver.pass_ms=9",
            "transmitter.drive.period_ms=2.5",
            f"transmitter.drive.when_busy='{when_busy}'",
            f"transmitter.drive.flush_on_give_up={str(flush).lower()}",
            "fault=[{at_s=0.2011, for_s=0.05, kind='power_off', unit='drive'}]",
        ),
        start=start,
    )
    numbers = simulated.frames["frame"][simulated.frames["stream"] == 0]

    assert account(simulated, 0).sampled == numbers.max() + 1
