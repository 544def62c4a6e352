"""When a transmitter's program samples, and what becomes of a sample (rules A1 to A4, A6).

Instants in µs; the arithmetic of one frame stands in hand_made.py.
"""

import itertools

import pytest

from tests.engine.reference.hand_made import FLAG, attempts, frames, numbers, samples, start, starts


def test_a_timer_samples_on_a_grid_from_the_end_of_the_boot() -> None:
    trace = start({"a": {"start_s": 0.001, "boot_s": 0.002, "offset_ms": 3}}, ms=22)

    # Switched on at 1000, up at 3000, + 3000 + 5000·k.
    assert samples(trace) == [6000, 11000, 16000, 21000]


def test_the_clock_error_scales_the_period_alone() -> None:
    trace = start({"a": {"clock_ppm": 10_000, "offset_ms": 3}})

    assert samples(trace) == [3000, 8050, 13100, 18150]


def test_the_grid_is_rounded_once_and_not_step_by_step() -> None:
    # 2 parts in 10⁹ of 5 ms are 0.01 ns: nothing after 49 periods, 0.5 ns after 50.
    trace = start({"a": {"clock_ppm": 0.002}}, ms=251)

    assert trace.frames["sampled_ns"][49:].tolist() == [245_000_000, 250_000_001]


def test_jitter_is_late_only_and_does_not_add_up() -> None:
    trace = start({"a": {"jitter_ms": 2}}, ms=500)

    late = [at_us - 5000 * k for k, at_us in enumerate(samples(trace))]
    assert len(late) == 100
    assert 0 <= min(late) < 500
    assert 1500 < max(late) <= 2000
    assert len(set(late)) > 90


def test_dither_draws_every_period_and_adds_up() -> None:
    at_us = samples(start({"a": {"dither_ms": 2, "clock_ppm": 10_000}}, ms=2000))

    periods = [after - before for before, after in itertools.pairwise(at_us)]
    # 5 ms ± 2 ms, both 1 % longer; a walk of 2 ms · √(394 / 3) from its grid, four times that.
    assert 3030 <= min(periods) < 3100
    assert 7000 < max(periods) <= 7070
    assert 4040 < max(abs(us - 5050 * k) for k, us in enumerate(at_us)) < 4 * 23_200


def test_a_loop_that_checks_elapsed_time_is_later_every_time() -> None:
    # Its send blocks it until 610; it turns at 910 and at 1210, the first turn with 1000 gone by.
    trace = start({"a": {"pacing": "elapsed", "period_ms": 1, "loop_ms": 0.3}}, ms=4)

    assert samples(trace) == [0, 1210, 2420, 3630]


def test_the_clock_paces_the_loop_and_its_period() -> None:
    # Turns of 330, period 1100: 610, 940, 1270.
    keys = {"pacing": "elapsed", "period_ms": 1, "loop_ms": 0.3, "clock_ppm": 100_000}

    assert samples(start({"a": keys}, ms=3)) == [0, 1270, 2540]


def test_a_loop_that_its_send_blocks_samples_at_its_next_turn() -> None:
    # All is lost: four attempts, given up at 3000; a turn later it samples.
    keys = {"pacing": "elapsed", "period_ms": 1, "loop_ms": 0.3}

    assert samples(start({"a": keys}, ms=7, air={"loss": 1})) == [0, 3300, 6600]


AFTER_SEND = {"pacing": "after_send", "period_ms": None, "pause_ms": 1}


def test_a_pause_begins_when_the_radio_is_done() -> None:
    # Done at 610, + 1000.
    assert samples(start({"a": AFTER_SEND}, ms=5)) == [0, 1610, 3220, 4830]


def test_retries_stretch_the_cycle_of_a_transmitter_that_pauses() -> None:
    # Two attempts: 200–400 and 900–1100; given up at 1600.
    trace = start({"a": AFTER_SEND | {"retry_limit": 1}}, ms=6, air={"loss": 1})

    assert samples(trace) == [0, 2600, 5200]


def test_a_transmitter_that_asks_for_no_acknowledgement_pauses_from_its_frames_end() -> None:
    assert samples(start({"a": AFTER_SEND | FLAG}, ms=4)) == [0, 1400, 2800]


def test_the_clock_scales_the_pause() -> None:
    assert samples(start({"a": AFTER_SEND | {"clock_ppm": 100_000}}, ms=4)) == [0, 1710, 3420]


def test_a_pause_is_lengthened_by_its_jitter_which_adds_up() -> None:
    trace = start({"a": AFTER_SEND | {"jitter_ms": 0.5}}, ms=100)

    at_us = samples(trace)
    steps = [after - before for before, after in itertools.pairwise(at_us)]
    assert 1610 <= min(steps) < max(steps) <= 2110
    assert at_us[-1] > 1650 * (len(at_us) - 1)


def test_a_frame_is_uploaded_when_it_is_prepared() -> None:
    trace = start({"a": {"prepare_us": 300}}, ms=6)

    assert samples(trace) == [0, 5000]
    assert starts(trace) == [500, 5500]


def test_work_holds_back_the_upload_of_a_timer_sample() -> None:
    # Work at 4000–6000 and 14000–16000.
    work = [{"every_ms": 10, "takes_ms": 2, "offset_ms": 4}]
    trace = start({"a": {"work": work}}, ms=17)

    assert samples(trace) == [0, 5000, 10000, 15000]
    assert starts(trace) == [200, 6200, 10200, 16200]


def test_work_with_interrupts_off_holds_back_the_timer_itself() -> None:
    work = [{"every_ms": 10, "takes_ms": 2, "offset_ms": 4, "interrupts_off": True}]
    trace = start({"a": {"work": work}}, ms=17)

    assert samples(trace) == [0, 6000, 10000, 16000]
    assert starts(trace) == [200, 6200, 10200, 16200]


def test_work_holds_back_the_sample_of_a_transmitter_without_a_timer() -> None:
    # The pause is over at 1610, the work 1500–2500.
    work = [{"every_ms": 10, "takes_ms": 1, "offset_ms": 1.5}]

    assert samples(start({"a": AFTER_SEND | {"work": work}}, ms=5)) == [0, 2500, 4110]


# A sample every 500, while the radio takes 610 for a frame.
CROWDED = {"period_ms": 0.5}


def test_skip_drops_a_sample_that_finds_the_radio_busy() -> None:
    trace = start({"a": CROWDED}, ms=2.2)

    assert frames(trace) == [
        (0, 610, "acknowledged"),
        (1, 500, "skipped"),
        (2, 1610, "acknowledged"),
        (3, 1500, "skipped"),
        (4, 2200, "under way"),
    ]
    # A sample that was dropped takes no packet number.
    assert numbers(trace) == [(0, 0), (2, 1)]


def test_wait_sends_a_sample_when_the_radio_is_free() -> None:
    trace = start({"a": CROWDED | {"when_busy": "wait"}}, ms=2.4)

    # On the air 200 after the frame before is done: 610, 1220, 1830.
    assert attempts(trace) == [(0, 200, "new"), (1, 810, "new"), (2, 1420, "new"), (3, 2030, "new")]
    assert samples(trace)[:4] == [0, 500, 1000, 1500]


def test_a_sample_that_waits_is_prepared_all_the_same() -> None:
    # The first is uploaded at 300 and done at 910; the second, of 800, is ready at 1100.
    trace = start({"a": {"period_ms": 0.8, "prepare_us": 300, "when_busy": "wait"}}, ms=1.6)

    assert starts(trace) == [500, 1300]


def test_a_sample_that_waits_is_prepared_while_it_waits() -> None:
    # The second, of 500, is ready at 800, before the radio is free at 910.
    trace = start({"a": CROWDED | {"prepare_us": 300, "when_busy": "wait"}}, ms=1.6)

    assert starts(trace) == [500, 1110]


def test_queue_uploads_at_once() -> None:
    keys = CROWDED | {"when_busy": "queue", "start_signal": "held"}
    trace = start({"a": keys}, ms=2)

    # The second is in the FIFO at 600, so that only a settle lies between 610 and its start.
    assert attempts(trace) == [(0, 200, "new"), (1, 710, "new"), (2, 1220, "new"), (3, 1730, "new")]


def test_a_queue_is_three_deep_with_the_frame_on_the_air() -> None:
    keys = CROWDED | {"when_busy": "queue", "start_signal": "held"}
    trace = start({"a": keys}, ms=3.2, air={"loss": 1})

    # The first is given up at 3000, just before the sample of that instant.
    assert frames(trace) == [
        (0, 3000, "retries used up"),
        (1, 3200, "under way"),
        (2, 3200, "under way"),
        (3, 1500, "queue full"),
        (4, 2000, "queue full"),
        (5, 2500, "queue full"),
        (6, 3200, "under way"),
    ]


def test_replace_keeps_the_newest() -> None:
    trace = start({"a": CROWDED | {"when_busy": "replace"}}, ms=3.45, air={"loss": 1})

    # Each is replaced by the next, but the one of 2500 goes out when the radio is free at 3000.
    assert frames(trace) == [
        (0, 3000, "retries used up"),
        (1, 1000, "replaced"),
        (2, 1500, "replaced"),
        (3, 2000, "replaced"),
        (4, 2500, "replaced"),
        (5, 3450, "under way"),
        (6, 3450, "under way"),
    ]
    assert attempts(trace)[-1] == (5, 3200, "chance")


@pytest.mark.parametrize("when_busy", ["skip", "wait", "queue", "replace"])
def test_a_radio_that_is_free_in_time_makes_all_the_same(when_busy: str) -> None:
    trace = start({"a": {"period_ms": 1, "when_busy": when_busy}}, ms=3)

    assert attempts(trace) == [(0, 200, "new"), (1, 1200, "new"), (2, 2200, "new")]
