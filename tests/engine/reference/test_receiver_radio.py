"""What the receiver's radio hears, keeps and acknowledges (rule D).

Instants in µs; the arithmetic of one frame stands in hand_made.py.
"""

from typing import Any

import pytest

from tests.engine.reference.hand_made import (
    FLAG,
    acknowledgements,
    attempts,
    fates,
    frames,
    reads,
    start,
)

LATE_PASS = {"loop_ms": 50}
"""Between the passes at 100 and 50100 nothing is read."""


@pytest.mark.parametrize(
    ("on_air_us", "fate"), [(620, "deaf"), (699, "deaf"), (700, "new"), (710, "new")]
)
def test_a_receiver_that_acknowledged_is_deaf_until_it_has_turned_back(
    on_air_us: float, fate: str
) -> None:
    # From the frame's end at 400: settle, acknowledgement, settle.
    trace = start({"a": {}, "b": FLAG | {"offset_ms": (on_air_us - 200) / 1000}}, ms=1.5)

    assert attempts(trace, 1) == [(0, on_air_us, fate)]


def test_a_receiver_that_does_not_acknowledgement_listens_on() -> None:
    trace = start({"a": FLAG, "b": FLAG | {"offset_ms": 0.2}}, ms=1.5)

    assert attempts(trace, 1) == [(0, 400, "new")]


@pytest.mark.parametrize(
    ("from_us", "to_us", "fate"),
    [
        (150, 200, "new"),
        (150, 201, "deaf"),
        (250, 300, "deaf"),
        (399, 450, "deaf"),
        (400, 450, "new"),
    ],
)
def test_a_frame_is_heard_only_if_the_receiver_listens_to_the_whole_of_it(
    from_us: float, to_us: float, fate: str
) -> None:
    # The program that makes it deaf starts at 100; the frame lasts from 200 to 400.
    span = {"every_ms": 5, "for_ms": (to_us - from_us) / 1000, "offset_ms": (from_us - 100) / 1000}
    trace = start({"a": FLAG}, ms=12, receiver={"deaf": [span]})

    # It comes round with the transmitter's period.
    assert fates(trace) == [fate] * 3


DEAF = {"deaf": [{"every_ms": 4, "for_ms": 1, "offset_ms": 0}], "boot_s": 0.003}
RESET = {"at_s": 0.01, "kind": "reset", "unit": "receiver"}


@pytest.mark.parametrize(
    ("on_air_us", "fate"),
    [
        (7200, "deaf"),
        (8200, "new"),
        # The program boots from 10000 to 13000, and its spans begin with it again.
        (11200, "new"),
        (12900, "deaf"),
        (13200, "deaf"),
        (15200, "new"),
        (17200, "deaf"),
    ],
)
def test_deaf_spans_begin_afresh_with_the_program(on_air_us: float, fate: str) -> None:
    # Up at 3100: deaf at 3100–4100, 7100–8100; after the reset at 13000–14000, 17000–18000. Without
    # it they would come at 11100 and 15100.
    keys = FLAG | {"offset_ms": (on_air_us - 200) / 1000, "period_ms": 50}
    trace = start({"a": keys}, receiver=DEAF, fault=[RESET])

    assert attempts(trace) == [(0, on_air_us, fate)]


@pytest.mark.parametrize(("on_air_us", "fate"), [(3200, "new"), (12900, "new"), (16400, "deaf")])
def test_no_deaf_span_reaches_back_before_the_programs_start(on_air_us: float, fate: str) -> None:
    # Every 4000 from 3500 after the start: at 6600, and after the reset at 16500. A span 4000
    # earlier would cover the first 500 after each start, 3100 and 13000.
    spans = {"deaf": [{"every_ms": 4, "for_ms": 1, "offset_ms": 3.5}], "boot_s": 0.003}
    keys = FLAG | {"offset_ms": (on_air_us - 200) / 1000, "period_ms": 50}
    trace = start({"a": keys}, receiver=spans, fault=[RESET])

    assert attempts(trace) == [(0, on_air_us, fate)]


HANGS = {"kind": "hang", "unit": "receiver", "for_s": 0.008}


@pytest.mark.parametrize(("hung_us", "fate"), [(7500, "deaf"), (8500, "new")])
@pytest.mark.parametrize("on_air_us", [9200, 11200, 13200])
def test_a_program_that_hangs_stays_deaf_or_listens_as_it_did(
    hung_us: float, fate: str, on_air_us: float
) -> None:
    # Deaf at 7100–8100, and at 11100–12100 if the program had not stood still.
    keys = FLAG | {"offset_ms": (on_air_us - 200) / 1000, "period_ms": 50}
    trace = start({"a": keys}, receiver=DEAF, fault=[HANGS | {"at_s": hung_us / 1e6}])

    assert attempts(trace) == [(0, on_air_us, fate)]


def test_a_full_fifo_takes_and_acknowledges_nothing() -> None:
    trace = start({"a": {"period_ms": 2, "retry_limit": 1}}, ms=8, receiver=LATE_PASS)

    assert fates(trace) == ["new", "new", "new", "full", "full"]
    assert len(acknowledgements(trace)) == 3
    # 6200–6400, 6900–7100, and 500 on.
    assert frames(trace)[3] == (3, 7600, "retries used up")


def test_a_full_fifo_acknowledgements_no_duplicate_either() -> None:
    trace = start(
        {"a": {}},
        ms=3,
        receiver=LATE_PASS,
        radio={"fifo_frames": 1},
        air={"acknowledge_loss": 1},
    )

    assert fates(trace) == ["new", "full", "full", "full"]
    assert len(acknowledgements(trace)) == 1


def test_a_full_fifo_acknowledgements_all_the_same_if_it_says_so() -> None:
    trace = start(
        {"a": {"period_ms": 2}},
        ms=52,
        receiver=LATE_PASS | {"acknowledge_when_full": True},
    )

    assert [row[2] for row in frames(trace)[:25]] == ["acknowledged"] * 25
    assert fates(trace)[:5] == ["new", "new", "new", "full", "full"]
    # The oldest are kept.
    assert reads(trace)[:3] == [(0, n, 50100, "read") for n in range(3)]


def test_one_fifo_serves_all_pipes() -> None:
    transmitters = {
        name: {"offset_ms": offset, "retry_limit": 0}
        for name, offset in zip("ab", (0, 1), strict=True)
    }
    trace = start(transmitters, ms=8, receiver=LATE_PASS)

    assert fates(trace, 0) == ["new", "new"]
    assert fates(trace, 1) == ["new", "full"]


def test_a_pass_empties_the_fifo_for_what_comes_later() -> None:
    # Frames enter at 410, 2410, …; the passes at 100 + 7000·k, + 300 for three reads.
    trace = start({"a": FLAG | {"period_ms": 2}}, ms=15, receiver={"loop_ms": 7})

    assert fates(trace)[:7] == ["new", "new", "new", "full", "new", "new", "new"]


def test_a_retry_of_an_accepted_frame_is_acknowledged_again_and_not_handed_on() -> None:
    trace = start({"a": {"retry_limit": 2}}, ms=4, air={"acknowledge_loss": 1})

    assert fates(trace) == ["new", "duplicate", "duplicate"]
    assert len(acknowledgements(trace)) == 3
    assert reads(trace) == [(0, 0, 1100, "read")]


# Deaf from 2000 to 7000: the frames of 2000, 4000 and 6000 are lost, that of 8000 has number 0.
THREE_LOST = {"deaf": [{"every_ms": 100, "for_ms": 5, "offset_ms": 1.9}]}


@pytest.mark.parametrize(
    ("keys", "fate"),
    [
        ({}, "duplicate"),
        (FLAG, "duplicate"),
        # No packet number, no check.
        ({"acknowledge": False}, "new"),
        # A counter that moved.
        (
            {"payload_bytes": None, "layout": "frame", "signals": {"count": {"kind": "counter"}}},
            "new",
        ),
        # Another value, that did not move.
        ({"payload_bytes": None, "layout": "frame"}, "duplicate"),
    ],
)
def test_after_three_lost_frames_an_unchanged_fourth_is_taken_for_a_duplicate(
    keys: dict[str, Any], fate: str
) -> None:
    trace = start({"a": {"period_ms": 2, "retry_limit": 0} | keys}, ms=10, receiver=THREE_LOST)

    assert fates(trace) == ["new", "deaf", "deaf", "deaf", fate]


def test_after_two_lost_frames_the_next_is_new() -> None:
    # Deaf until 5000.
    two_lost = {"deaf": [{"every_ms": 100, "for_ms": 3, "offset_ms": 1.9}]}
    trace = start({"a": {"period_ms": 2, "retry_limit": 0}}, ms=8, receiver=two_lost)

    assert fates(trace) == ["new", "deaf", "deaf", "new"]


def test_a_false_duplicate_is_acknowledged_and_never_read() -> None:
    trace = start({"a": {"period_ms": 2, "retry_limit": 0}}, ms=10, receiver=THREE_LOST)

    assert frames(trace)[4] == (4, 8610, "acknowledged")
    assert reads(trace) == [(0, 0, 1100, "read")]


@pytest.mark.parametrize(
    ("memory", "again"), [("pipe", ["duplicate"] * 2), ("radio", ["new", "duplicate"])]
)
def test_one_memory_for_all_pipes_lets_a_retry_through_after_another_frame(
    memory: str, again: list[str]
) -> None:
    # The other's frame, 700–900, lies between the attempts of 200, 900 and 1600; acknowledgements
    # are lost.
    transmitters = {"a": {"retry_limit": 2}, "b": FLAG | {"offset_ms": 0.5}}
    trace = start(
        transmitters, ms=3, receiver={"duplicate_memory": memory}, air={"acknowledge_loss": 1}
    )

    assert fates(trace, 0) == ["new", *again]
    assert fates(trace, 1) == ["new"]
    assert sum(row[:2] == (0, 0) for row in reads(trace)) == 1 + again.count("new")


def test_a_frame_enters_the_fifo_an_interrupt_time_after_its_end() -> None:
    trace = start({"a": {}}, ms=3, receiver=LATE_PASS)

    assert trace.reads["accepted_ns"].tolist() == [410_000]


@pytest.mark.parametrize(("pass_us", "read_us"), [(310, 410), (309, 718)])
def test_a_pass_reads_what_stands_in_the_fifo_as_it_starts(pass_us: float, read_us: float) -> None:
    # Passes at 100 + n·309 or n·310; the frame enters at 410.
    trace = start({"a": {}}, ms=3, receiver={"loop_ms": pass_us / 1000})

    assert reads(trace) == [(0, 0, read_us, "read")]


def test_an_acknowledgement_lasts_as_long_as_its_telemetry_takes() -> None:
    # 8 bytes: 500–700; the receiver is deaf until 800.
    transmitters = {"a": {}, "b": FLAG | {"offset_ms": 0.599}, "c": FLAG | {"offset_ms": 0.9}}
    trace = start(transmitters, ms=1.5, receiver={"acknowledge_payload_bytes": 8})

    assert acknowledgements(trace) == [(500, 700, "taken", 1)]
    assert attempts(trace, 1) == [(0, 799, "deaf")]
    assert attempts(trace, 2) == [(0, 1100, "new")]
