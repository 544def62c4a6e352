"""Uploads, attempts, listening and retries (rule B).

Instants in µs; the arithmetic of one frame stands in hand_made.py.
"""

import pytest

from radiosim.errors import ScenarioError
from tests.engine.reference.hand_made import (
    FLAG,
    acknowledgements,
    attempts,
    fates,
    frames,
    numbers,
    reads,
    scenario_with,
    start,
    starts,
    us,
)

ON_ONE_ADDRESS = {"address": "C3 A1 5E 7B 01"}


def test_upload_and_settle_come_before_the_attempt() -> None:
    # 8 · (1 + 17) bits at 720 kHz take 200, + 50 + 100; on the air 8 · (8 + 17) bits take 312.5.
    trace = start({"a": {"payload_bytes": 17, "spi_overhead_us": 50}}, ms=3)

    assert [us(at_ns) for at_ns in trace.attempts["start_ns"]] == [350]
    assert [us(at_ns) for at_ns in trace.attempts["end_ns"]] == [662.5]


def test_the_plain_format_has_no_control_field_and_no_acknowledgement() -> None:
    # 128 bits without the control field.
    trace = start({"a": {"acknowledge": False}}, ms=3, radio={"control_bits": 64})

    assert us(trace.attempts["end_ns"][0] - trace.attempts["start_ns"][0]) == 200
    assert frames(trace) == [(0, 400, "sent")]
    assert acknowledgements(trace) == []


def test_a_flagged_frame_has_a_control_field_and_no_acknowledgement() -> None:
    # 128 + 64 bits.
    trace = start({"a": FLAG}, ms=3, radio={"control_bits": 64})

    assert us(trace.attempts["end_ns"][0] - trace.attempts["start_ns"][0]) == 300
    assert frames(trace) == [(0, 500, "sent")]
    assert acknowledgements(trace) == []


def test_a_frame_that_asks_is_done_after_its_acknowledgement() -> None:
    trace = start({"a": {}}, ms=3)

    assert acknowledgements(trace) == [(500, 600, "taken", 1)]
    assert frames(trace) == [(0, 610, "acknowledged")]


@pytest.mark.parametrize("acknowledge", [False, "flag"])
def test_what_asks_for_no_acknowledgement_is_sent_once(acknowledge: bool | str) -> None:
    trace = start({"a": {"acknowledge": acknowledge}}, ms=4, air={"loss": 1})

    assert attempts(trace) == [(0, 200, "chance")]
    assert frames(trace) == [(0, 400, "sent")]


def test_an_acknowledgements_address_may_be_complete_as_the_window_closes() -> None:
    # The transmitter listens from 500; the address of the acknowledgement is complete at 575.
    trace = start({"a": {"retry_limit": 1}}, ms=3, radio={"acknowledge_window_us": 75})

    assert frames(trace) == [(0, 610, "acknowledged")]


def test_an_acknowledgement_after_the_window_is_not_heard() -> None:
    trace = start({"a": {"retry_limit": 1}}, ms=3, radio={"acknowledge_window_us": 74})

    assert [row[2:] for row in acknowledgements(trace)] == [("unheard", 0), ("unheard", 0)]
    assert attempts(trace) == [(0, 200, "new"), (0, 900, "duplicate")]
    assert frames(trace) == [(0, 1600, "retries used up")]


def test_a_transmitter_listens_to_the_end_of_a_long_acknowledgement() -> None:
    # 8 bytes of telemetry: 500–700, far beyond the window of 75.
    trace = start(
        {"a": {}},
        ms=3,
        radio={"acknowledge_window_us": 75},
        receiver={"acknowledge_payload_bytes": 8},
    )

    assert acknowledgements(trace) == [(500, 700, "taken", 1)]
    assert frames(trace) == [(0, 710, "acknowledged")]


# b, far stronger, is on the air 250–450 and acknowledged 550–650; a, drowned, listens 500–700.
DROWNED = {"a": {}, "b": {"offset_ms": 0.05, "power_dbm": 30}}


def test_transmitters_on_one_address_take_each_others_acknowledgement() -> None:
    trace = start({name: keys | ON_ONE_ADDRESS for name, keys in DROWNED.items()}, ms=3)

    assert attempts(trace, 0) == [(0, 200, "collision")]
    assert acknowledgements(trace) == [(550, 650, "taken", 0b11)]
    assert frames(trace, 0) == frames(trace, 1) == [(0, 660, "acknowledged")]


def test_transmitters_on_two_addresses_do_not() -> None:
    trace = start(DROWNED, ms=3)

    assert attempts(trace, 0) == [(0, 200, "collision"), (0, 900, "new")]
    assert acknowledgements(trace)[0] == (550, 650, "taken", 0b10)


# 32 bytes of telemetry take 8 · (8 + 32) bits, 500: the acknowledgement to b lasts from 550 to
# 1050.
LONG_ANSWER = {"acknowledge_payload_bytes": 32}


def test_a_bad_acknowledgement_holds_a_listener_to_its_end_and_a_settle() -> None:
    transmitters = {
        "a": ON_ONE_ADDRESS | {"retry_delay_us": 600, "retry_limit": 1},
        "b": ON_ONE_ADDRESS | DROWNED["b"] | {"retry_delay_us": 1500, "retry_limit": 1},
    }
    trace = start(transmitters, ms=4, receiver=LONG_ANSWER, air={"acknowledge_loss": 1})

    # a's own time would be 400 + 700 = 1100; 1050 + 100 is later. b: 450 + 1600.
    assert starts(trace, 0) == [200, 1150]
    assert starts(trace, 1) == [250, 2050]


def test_a_bad_acknowledgement_on_another_address_holds_nobody() -> None:
    transmitters = {
        "a": {"retry_delay_us": 600, "retry_limit": 1},
        "b": DROWNED["b"] | {"retry_delay_us": 1500, "retry_limit": 1},
    }
    trace = start(transmitters, ms=4, receiver=LONG_ANSWER, air={"acknowledge_loss": 1})

    assert starts(trace, 0) == [200, 1100]


def test_a_bad_acknowledgement_that_ends_in_time_delays_nobody() -> None:
    # Over at 650, + 100 is before a's own time, 900.
    transmitters = {name: keys | ON_ONE_ADDRESS for name, keys in DROWNED.items()}
    trace = start(transmitters, ms=1.6, air={"acknowledge_loss": 1})

    assert starts(trace, 0) == [200, 900]
    assert starts(trace, 1) == [250, 950]


def test_attempts_are_a_retry_delay_and_a_settle_apart_from_end_to_start() -> None:
    trace = start({"a": {}}, ms=4, air={"loss": 1})

    assert starts(trace) == [200, 900, 1600, 2300]
    # Given up when the fifth would have started.
    assert frames(trace) == [(0, 3000, "retries used up")]


def test_without_the_settle_attempts_are_a_retry_delay_apart() -> None:
    trace = start({"a": {}}, ms=4, air={"loss": 1}, radio={"retry_settle": False})

    assert starts(trace) == [200, 800, 1400, 2000]
    assert frames(trace) == [(0, 2600, "retries used up")]


def test_a_lost_acknowledgement_costs_a_retry() -> None:
    trace = start({"a": {"retry_limit": 2}}, ms=4, air={"acknowledge_loss": 1})

    assert attempts(trace) == [(0, 200, "new"), (0, 900, "duplicate"), (0, 1600, "duplicate")]
    assert [row[2] for row in acknowledgements(trace)] == ["chance"] * 3
    assert frames(trace) == [(0, 2300, "retries used up")]


def test_no_retries_are_one_attempt() -> None:
    trace = start({"a": {"retry_limit": 0}}, ms=4, air={"loss": 1})

    assert starts(trace) == [200]
    assert frames(trace) == [(0, 900, "retries used up")]


@pytest.mark.parametrize(("retry_settle", "shortest_us"), [(False, 300), (True, 200)])
def test_the_shortest_delay_meets_a_receiver_that_just_listens_again(
    retry_settle: bool, shortest_us: int
) -> None:
    # The receiver turns round, acknowledgements and turns back: 400 + 100 + 100 + 100 = 700.
    keys = {"retry_delay_us": shortest_us, "retry_limit": 1}
    trace = start(
        {"a": keys}, ms=3, air={"acknowledge_loss": 1}, radio={"retry_settle": retry_settle}
    )

    assert attempts(trace) == [(0, 200, "new"), (0, 700, "duplicate")]


@pytest.mark.parametrize(
    ("retry_settle", "delay_us", "telemetry_bytes", "text"),
    [
        (False, 299, 0, r"must be >= 500 us .* \(300 us\), got 299"),
        (True, 199, 0, r"must be >= 250 us .* \(200 us\), got 199"),
        (True, 400, 32, r"must be >= 750 us .* \(600 us\), got 400"),
    ],
)
def test_a_delay_too_short_for_the_acknowledgement_is_refused(
    retry_settle: bool, delay_us: int, telemetry_bytes: int, text: str
) -> None:
    with pytest.raises(ScenarioError, match=text):
        scenario_with(
            {"a": {"retry_delay_us": delay_us}},
            radio={"retry_settle": retry_settle},
            receiver={"acknowledge_payload_bytes": telemetry_bytes},
        )


def test_packet_numbers_go_up_by_one_modulo_four() -> None:
    trace = start({"a": {}}, ms=28)

    assert numbers(trace) == [(0, 0), (1, 1), (2, 2), (3, 3), (4, 0), (5, 1)]


def test_a_packet_number_stays_over_retries() -> None:
    trace = start({"a": {"retry_limit": 1}}, ms=8, air={"loss": 1})

    assert numbers(trace) == [(0, 0), (0, 0), (1, 1), (1, 1)]


# The receiver is deaf from 200 to 1000, so that the first frame is lost and given up at 900.
DEAF_AT_FIRST = {"deaf": [{"every_ms": 100, "for_ms": 0.8, "offset_ms": 0.1}]}
KEEPS = {"flush_on_retries_used_up": False, "retry_limit": 0, "period_ms": 2}


def test_a_frame_given_up_leaves_the_fifo() -> None:
    trace = start({"a": KEEPS | {"flush_on_retries_used_up": True}}, ms=5, receiver=DEAF_AT_FIRST)

    assert attempts(trace) == [(0, 200, "deaf"), (1, 2200, "new"), (2, 4200, "new")]


def test_a_kept_frame_goes_out_in_the_next_slot_and_all_later_ones_a_slot_late() -> None:
    trace = start({"a": KEEPS}, ms=7, receiver=DEAF_AT_FIRST)

    assert attempts(trace) == [
        (0, 200, "deaf"),
        (0, 2200, "new"),
        (1, 4200, "new"),
        (2, 6200, "new"),
    ]
    assert numbers(trace) == [(0, 0), (0, 0), (1, 1), (2, 2)]
    assert trace.attempts["slot"].tolist() == [0, 1, 0, 0]
    assert frames(trace)[:3] == [
        (0, 900, "kept"),
        (0, 2610, "acknowledged"),
        (1, 4610, "acknowledged"),
    ]


def test_a_held_start_signal_sends_all_that_waits_but_a_kept_frame_not_at_once() -> None:
    trace = start({"a": KEEPS | {"start_signal": "held"}}, ms=5, receiver=DEAF_AT_FIRST)

    # The kept frame waits for the slot of 2000; the next follows at 2610 + 100.
    assert attempts(trace) == [
        (0, 200, "deaf"),
        (0, 2200, "new"),
        (1, 2710, "new"),
        (2, 4200, "new"),
    ]


@pytest.mark.parametrize("start_signal", ["pulse", "held"])
def test_uploads_to_a_fifo_full_of_kept_frames_are_lost(start_signal: str) -> None:
    trace = start({"a": KEEPS | {"start_signal": start_signal}}, ms=9, air={"loss": 1})

    assert attempts(trace) == [(0, at_us, "chance") for at_us in (200, 2200, 4200, 6200, 8200)]
    assert [row for row in frames(trace) if row[2] == "queue full"] == [
        (3, 6000, "queue full"),
        (4, 8000, "queue full"),
    ]


def test_a_start_pulse_that_finds_the_radio_busy_is_lost() -> None:
    # The second frame, uploaded at 500, waits for the pulse of the third at 1000.
    keys = {"period_ms": 0.5, "when_busy": "queue"}

    assert attempts(start({"a": keys}, ms=1.5)) == [(0, 200, "new"), (1, 1200, "new")]


def test_a_fixed_length_pads_every_frame() -> None:
    # 17 bytes: uploaded in 200, on the air for 312.5.
    trace = start({"a": FLAG}, ms=3, radio={"payload_length": 17})

    assert starts(trace) == [300]
    assert us(trace.attempts["end_ns"][0]) == 612.5
    assert fates(trace) == ["new"]


def test_a_fixed_length_that_differs_between_the_ends_is_never_received() -> None:
    trace = start({"a": {"payload_length": 17}}, radio={"payload_length": 16})

    assert len(trace.attempts) > 10
    assert reads(trace) == []
    assert acknowledgements(trace) == []


def test_the_same_fixed_length_at_both_ends_is_received() -> None:
    trace = start({"a": {"payload_length": 17}}, ms=3, radio={"payload_length": 17})

    assert fates(trace) == ["new"]
