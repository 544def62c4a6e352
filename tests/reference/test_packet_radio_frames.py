"""Packet numbers, duplicates and FIFOs of the acknowledging packet radio.

Source: Nordic Semiconductor, "Single Chip 2.4GHz Transceiver, Product Specification" v1.0, 2008
(PS); the older edition of 2007 (PS2).
"""

from itertools import pairwise

import numpy as np
import pytest

from radiosim.trace import (
    ACKNOWLEDGED,
    DEAF,
    DUPLICATE,
    FULL,
    KEPT,
    NEW,
    QUEUE_FULL,
    READ,
    RETRIES_USED_UP,
    THROWN_AWAY,
    WAITING,
    Fate,
)
from tests.reference.outside import DERIVED, MEMORY, SEEN, check, outside
from tests.reference.runs import UP_AT_ONCE, of_stream, one_transmitter, run
from tests.reference.sources import FACTS, PS, PS2


@outside(
    "step of the packet number from frame to frame, and over the retries of one",
    source=PS.at("7.3.3.2"),
    status=SEEN,
)
def test_the_packet_number_steps_once_a_frame() -> None:
    attempts = run(one_transmitter("gfsk-1M", 8, loss=0.6)).attempts
    assert attempts["attempt"].max() > 2

    for before, after in pairwise(attempts):
        is_retry = before["frame"] == after["frame"]
        step = int(after["number"] - before["number"]) % 4
        check.same(
            f"{step} {'retry' if is_retry else 'frame'}", "0 retry" if is_retry else "1 frame"
        )
    assert set(attempts["number"]) == {0, 1, 2, 3}


@outside(
    "fates of the attempts of a frame whose acknowledgements are all lost",
    source=PS.at("7.3.3.2"),
    status=SEEN,
)
def test_retries_of_a_frame_that_came_are_duplicates() -> None:
    keys = "retry_limit = 3"
    scenario = one_transmitter("gfsk-1M", 8, keys=keys).replace(
        "acknowledge_loss = 0", "acknowledge_loss = 1"
    )
    attempts = run(scenario).attempts

    for fates in attempts["fate"].reshape(-1, 4):
        check.same(
            " ".join(Fate(fate).words for fate in fates), "new duplicate duplicate duplicate"
        )


@outside("share of duplicates that are acknowledged", source=PS.at("7.8.6 fig. 23"), status=SEEN)
def test_a_dropped_duplicate_is_acknowledged() -> None:
    scenario = one_transmitter("gfsk-1M", 8).replace("acknowledge_loss = 0", "acknowledge_loss = 1")
    trace = run(scenario)
    again = trace.attempts["end_ns"][trace.attempts["fate"] == DUPLICATE]

    assert len(again) == 45
    check.same(np.isin(again + 130_000, trace.acknowledgements["start_ns"]).mean(), 1.0)


@outside(
    "fate of a changed frame with the packet number of the last accepted one",
    source=PS.at("7.3.3.2"),
    status=SEEN,
)
@pytest.mark.parametrize(
    ("signal", "fate"), [('kind = "counter"', "new"), ('kind = "constant", value = 1', "duplicate")]
)
def test_a_frame_is_new_if_its_checksum_differs(signal: str, fate: str) -> None:
    # Three frames fall into a deaf span; the fourth has the number of the one before them.
    trace = run(f"""
duration_s = 0.3
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
receiver.clock_ppm = 0
receiver.deaf = [{{ every_ms = 100000, for_ms = 60, offset_ms = 90 }}]
layout.drive = {{ fields = [{{ name = "count", type = "u8" }}] }}
[transmitter.drive]
boot_s = 0
layout = "drive"
period_ms = 20
offset_ms = 0
clock_ppm = 0
retry_limit = 0
signals.count = {{ {signal} }}
""")
    attempts = trace.attempts
    after = int(np.flatnonzero(attempts["fate"] == DEAF)[-1]) + 1

    assert attempts["number"][after] == attempts["number"][after - 4]
    check.same(Fate(attempts["fate"][after]).words, fate)


@outside(
    "fate of a retry after a frame of another pipe, memory per pipe and per radio",
    source=PS.at("7.3.3.2"),
    status=MEMORY,
)
@pytest.mark.parametrize(("memory", "fate"), [("pipe", "duplicate"), ("radio", "new")])
def test_the_memory_of_the_last_packet_is_kept_where_the_switch_says(
    memory: str, fate: str
) -> None:
    trace = run(f"""
duration_s = 0.02
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
receiver.boot_s = 0
receiver.duplicate_memory = "{memory}"
air.loss = 0
air.acknowledge_loss = 1
[transmitter.drive]
boot_s = 0
period_ms = 20
offset_ms = 5
payload_bytes = 8
clock_ppm = 0
retry_limit = 1
retry_delay_us = 2000
[transmitter.head]
boot_s = 0
period_ms = 20
offset_ms = 6
payload_bytes = 8
clock_ppm = 0
acknowledge = "flag"
""")
    drive = of_stream(trace.attempts, 0)

    assert [row["attempt"] for row in drive] == [1, 2]
    check.same(Fate(drive["fate"][1]).words, fate)


def stalled(keys: str) -> str:
    """A transmitter without retries and a receiver program whose pass never ends."""
    scenario = one_transmitter("gfsk-1M", 8, keys="retry_limit = 0")
    return scenario.replace(
        "receiver.boot_s = 0", f"receiver = {{ boot_s = 0, clock_ppm = 0, loop_ms = 500{keys} }}"
    )


@outside(
    "frames of all transmitters that wait in the receiver's FIFO", source=PS2.at("8.4"), status=SEEN
)
@pytest.mark.parametrize("profile", ["gfsk-250k", "gfsk-1M", "gfsk-2M"])
def test_one_receive_fifo_holds_three_frames_of_all_pipes(profile: str) -> None:
    trace = run(f"""
duration_s = 0.2
radio.profile = "{profile}"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
receiver.loop_ms = 500
transmitter.drive = {{ boot_s = 0, period_ms = 20, offset_ms = 5, payload_bytes = 8, \
clock_ppm = 0 }}
transmitter.head = {{ boot_s = 0, period_ms = 20, offset_ms = 12, payload_bytes = 8, \
clock_ppm = 0 }}
""")
    waiting = trace.reads[trace.reads["outcome"] == WAITING]

    # The oldest are kept.
    assert set(waiting["accepted_ns"]) == set(np.sort(trace.reads["accepted_ns"])[:3])
    check.same(len(waiting), 3)


@outside(
    "what becomes of the fourth frame that finds the FIFO full", source=PS2.at("6.1.4"), status=SEEN
)
def test_a_frame_that_finds_the_fifo_full_is_dropped() -> None:
    trace = run(stalled(""))
    fates = [Fate(fate).words for fate in trace.attempts["fate"][:5]]

    check.same(" ".join(fates), "new new new full full")
    assert not np.isin(np.flatnonzero(trace.attempts["fate"] == FULL), trace.reads["frame"]).any()


@outside(
    "acknowledgements of frames that found the FIFO full, by the switch",
    source=PS.at("fig. 12"),
    status=MEMORY,
)
@pytest.mark.parametrize("is_acknowledged", [False, True])
def test_a_full_fifo_is_acknowledged_only_by_the_switch(is_acknowledged: bool) -> None:
    trace = run(stalled(f", acknowledge_when_full = {str(is_acknowledged).lower()}"))
    full = np.count_nonzero(trace.attempts["fate"] == FULL)

    assert full == 12
    check.same(len(trace.acknowledgements) - 3, full if is_acknowledged else 0)


@outside(
    "frames in the transmit FIFO, the one on the air included", source=PS2.at("8.4"), status=SEEN
)
def test_the_transmit_fifo_holds_three_frames() -> None:
    # 16 attempts 4.2 ms apart take 68 ms; meanwhile there is a new sample every 10 ms.
    keys = 'payload_bytes = 8\nperiod_ms = 10\noffset_ms = 5\nwhen_busy = "queue"\n'
    keys += "retry_limit = 15\nretry_delay_us = 4000"
    frames = run(one_transmitter("gfsk-1M", None, keys=keys, loss=1.0)).frames
    first_done_ns = frames["done_ns"][frames["frame"] == 0][0]
    refused = frames["outcome"] == QUEUE_FULL
    early = frames[frames["sampled_ns"] < first_done_ns]
    kept = early[early["outcome"] != QUEUE_FULL]

    assert refused.any()
    check.same(len(kept), 3)


@outside(
    "frames on the air slot by slot after one was given up and not flushed",
    source=PS.at("7.8.7"),
    status=SEEN,
)
@pytest.mark.parametrize(("flush", "sent"), [("true", "0 1 2 3 4"), ("false", "0 0 1 2 3")])
def test_without_a_flush_the_next_slot_sends_the_stale_frame(flush: str, sent: str) -> None:
    # The receiver is deaf for the first frame.
    keys = f"retry_limit = 0\nflush_on_retries_used_up = {flush}"
    scenario = one_transmitter("gfsk-1M", 8, keys=keys)
    deaf = "receiver.deaf = [{ every_ms = 100000, for_ms = 10, offset_ms = 0 }]\n"
    trace = run(scenario.replace("air.loss", f"receiver.clock_ppm = 0\n{deaf}air.loss"))
    first = trace.frames[trace.frames["frame"] == 0]

    assert set(first["outcome"]) == ({RETRIES_USED_UP} if flush == "true" else {KEPT, ACKNOWLEDGED})
    check.same(" ".join(map(str, trace.attempts["frame"][:5])), sent)
    # It keeps its packet number, so that it is no duplicate of anything.
    assert set(trace.attempts["fate"][1:]) == {NEW}
    assert set(trace.reads["outcome"]) <= {READ, THROWN_AWAY}


@outside(
    "fate of an unchanged frame after 1 to 12 lost ones: every fourth is taken for an old one",
    source=f"{PS.at('7.3.3.2')}; {FACTS.at('1')}",
    status=DERIVED,
)
@pytest.mark.parametrize("lost", range(1, 13))
def test_an_unchanged_frame_after_3_7_or_11_lost_ones_is_never_delivered(lost: int) -> None:
    trace = run(f"""
duration_s = 0.6
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
receiver.clock_ppm = 0
receiver.deaf = [{{ every_ms = 100000, for_ms = {20 * lost}, offset_ms = 90 }}]
[transmitter.drive]
boot_s = 0
period_ms = 20
offset_ms = 0
payload_bytes = 4
clock_ppm = 0
retry_limit = 0
""")
    fates = trace.attempts["fate"]
    after = int(np.flatnonzero(fates == DEAF)[-1]) + 1

    assert np.count_nonzero(fates == DEAF) == lost
    check.same(Fate(fates[after]).words, "duplicate" if lost % 4 == 3 else "new")
    assert (after in trace.reads["frame"]) == (lost % 4 != 3)
    assert (
        trace.frames["outcome"][after] == ACKNOWLEDGED
    )  # the transmitter sees an acknowledgement all the same
