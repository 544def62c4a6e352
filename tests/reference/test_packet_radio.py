"""Bits, time on air, cycle, deaf time and retries of the acknowledging packet radio.

Sources, all from Nordic Semiconductor, "Single Chip 2.4GHz Transceiver, Product Specification"
v1.0, 2008 (PS), and the preliminary specification of 2005/06 (PS1). Status beside each check:
S read in the published text, M from memory, D derived from published figures. Times are compared
to the nanosecond: they are sums of printed figures.
"""

import numpy as np
import pytest

from radiosim.radio.profiles import PROFILES
from radiosim.radio.time_on_air import bits_ns, frame_bits
from radiosim.trace import COLLISION, DEAF, DUPLICATE, NEW
from tests.reference.runs import UP_AT_ONCE, of_stream, run

RATES = ("gfsk-250k", "gfsk-1M", "gfsk-2M")


def one_sender(profile: str, payload_bytes: int, *, keys: str = "", loss: float = 0.0) -> str:
    return f"""
duration_s = 0.3
radio.profile = "{profile}"
{UP_AT_ONCE}
air.loss = {loss}
air.acknowledge_loss = 0
[transmitter.drive]
period_ms = 20
offset_ms = 5
payload_bytes = {payload_bytes}
clock_ppm = 0
spi_hz = 8_000_000
spi_overhead_us = 0
{keys}
"""


@pytest.mark.parametrize(("payload_bytes", "bits"), [(0, 73), (8, 137), (16, 201), (32, 329)])
def test_bits_of_an_acknowledging_frame_are_the_printed_parts(
    payload_bytes: int, bits: int
) -> None:
    # PS 7.3 (S), sum D: preamble 1, address 5, control field 9 bits, payload, checksum 2.
    assert frame_bits(payload_bytes, address_bytes=5, checksum_bytes=2) == bits


@pytest.mark.parametrize(("payload_bytes", "bits"), [(1, 72), (8, 128), (32, 320)])
def test_bits_of_a_plain_frame_lack_the_control_field(payload_bytes: int, bits: int) -> None:
    # PS1 table 12 (S), sum D.
    plain = frame_bits(payload_bytes, address_bytes=5, checksum_bytes=2, control_bits=0)

    assert plain == bits


@pytest.mark.parametrize(
    ("profile", "payload_bytes", "on_air_us"),
    [
        ("gfsk-250k", 0, 292.0),
        ("gfsk-250k", 8, 548.0),
        ("gfsk-250k", 32, 1316.0),
        ("gfsk-1M", 0, 73.0),
        ("gfsk-1M", 8, 137.0),
        ("gfsk-1M", 32, 329.0),
        ("gfsk-2M", 0, 36.5),
        ("gfsk-2M", 8, 68.5),
        ("gfsk-2M", 32, 164.5),
    ],
)
def test_time_on_air_is_bits_over_rate(profile: str, payload_bytes: int, on_air_us: float) -> None:
    # PS 7.3 and front page (S), quotient D.
    bits = frame_bits(payload_bytes, address_bytes=5, checksum_bytes=2)

    assert bits_ns(bits, PROFILES[profile].bit_rate) == on_air_us * 1000


@pytest.mark.parametrize(
    ("profile", "payload_bytes", "on_air_us"),
    [("gfsk-250k", 8, 548.0), ("gfsk-1M", 32, 329.0), ("gfsk-2M", 8, 68.5)],
)
def test_attempts_of_a_run_last_their_time_on_air(
    profile: str, payload_bytes: int, on_air_us: float
) -> None:
    attempts = run(one_sender(profile, payload_bytes)).attempts

    assert len(attempts) == 15
    assert set(attempts["end_ns"] - attempts["start_ns"]) == {on_air_us * 1000}


def test_plain_attempts_of_a_run_are_nine_bits_shorter() -> None:
    # PS1 table 12 (S): 320 bits at 1 Mbit/s.
    attempts = run(one_sender("gfsk-1M", 32, keys="acknowledge = false")).attempts

    assert set(attempts["end_ns"] - attempts["start_ns"]) == {320_000}


@pytest.mark.parametrize(("profile", "cycle_us"), [("gfsk-1M", 702.2), ("gfsk-2M", 499.0)])
def test_whole_cycle_of_a_run_is_the_printed_sum(profile: str, cycle_us: float) -> None:
    # PS 7.7 (M), sum D: upload + 2 settle + frame + acknowledgement + interrupt, 32 bytes, 8 MHz.
    # The printed upload counts payload bytes alone; the command byte takes 1 us more (rule B1).
    frames = run(one_sender(profile, 32)).frames

    assert set(frames["done_ns"] - frames["sampled_ns"]) == {round((cycle_us + 1.0) * 1000)}


@pytest.mark.parametrize(
    ("profile", "deaf_us"), [("gfsk-250k", 552.0), ("gfsk-1M", 333.0), ("gfsk-2M", 296.5)]
)
def test_an_acknowledgement_with_its_turns_takes_the_deaf_time(
    profile: str, deaf_us: float
) -> None:
    # PS 5.1 and 7.8 (S), sum D: settle + empty acknowledgement + settle.
    trace = run(one_sender(profile, 8))
    turned_ns = trace.acknowledgements["start_ns"] - trace.attempts["end_ns"]
    over_ns = trace.acknowledgements["end_ns"] - trace.attempts["end_ns"]

    assert set(turned_ns) == {130_000}
    assert set(over_ns + 130_000) == {deaf_us * 1000}


@pytest.mark.parametrize(
    ("profile", "deaf_us", "overlap_us"),
    [
        ("gfsk-250k", 552.0, 548.0 + 324.0),
        ("gfsk-1M", 333.0, 137.0 + 81.0),
        ("gfsk-2M", 296.5, 68.5 + 40.5),
    ],
)
def test_a_second_sender_slipping_past_measures_the_deaf_time(
    profile: str, deaf_us: float, overlap_us: float
) -> None:
    # D, as above. The probe (1 byte, asks for no answer) starts 0.5 us later on every frame, so
    # frames lost x 0.5 us is the length of what took them; a count of equally spaced points in a
    # span is right to less than one point. It starts 1 ms before the other and ends 1.4 ms after.
    slip_us = 0.5
    trace = run(f"""
duration_s = 96
radio.profile = "{profile}"
{UP_AT_ONCE}
air.loss = 0
[transmitter.drive]
period_ms = 20
offset_ms = 6
payload_bytes = 8
clock_ppm = 0
retry_limit = 0
[transmitter.probe]
period_ms = 20
offset_ms = 5
payload_bytes = 1
clock_ppm = 25
acknowledge = "flag"
""")
    fates = of_stream(trace.attempts, 1)["fate"]

    assert np.count_nonzero(fates == DEAF) * slip_us == pytest.approx(deaf_us, abs=slip_us)
    assert np.count_nonzero(fates == COLLISION) * slip_us == pytest.approx(overlap_us, abs=slip_us)


@pytest.mark.parametrize("delay_us", [250, 500, 4000])
def test_a_retry_starts_a_delay_and_a_settle_time_after_the_end_before(delay_us: int) -> None:
    # PS 7.4.2 (S): from the end of one transmission; the settle time on top is M.
    keys = f"retry_delay_us = {delay_us}\nretry_limit = 3"
    attempts = run(one_sender("gfsk-1M", 8, keys=keys, loss=1.0)).attempts
    waits_ns = (attempts["start_ns"][1:] - attempts["end_ns"][:-1])[attempts["attempt"][1:] > 1]

    assert set(waits_ns) == {delay_us * 1000 + 130_000}


def test_fifteen_retries_are_sixteen_attempts() -> None:
    # PS2 (2007) p. 54 (S).
    frames = run(one_sender("gfsk-1M", 8, keys="retry_limit = 15", loss=1.0)).frames

    assert set(frames["attempts"]) == {16}


def pair_that_collides(profile: str, apart_us: float, early_us: float) -> tuple[set[int], set[int]]:
    """Fates of the second attempts of two senders whose first ones overlap.

    The second one's retry delay is longer by `apart_us`, and it starts earlier by `early_us`.
    """
    trace = run(f"""
duration_s = 0.1
radio.profile = "{profile}"
{UP_AT_ONCE}
air.loss = 0
[transmitter.short]
period_ms = 20
offset_ms = 5
payload_bytes = 16
clock_ppm = 0
retry_delay_us = 500
[transmitter.long]
period_ms = 20
offset_ms = {5 - early_us / 1000}
payload_bytes = 16
clock_ppm = 0
retry_delay_us = {500 + apart_us}
""")
    first = trace.attempts[trace.attempts["attempt"] == 1]
    second = trace.attempts[trace.attempts["attempt"] == 2]
    assert set(first["fate"]) == {COLLISION}
    return set(of_stream(second, 0)["fate"]), set(of_stream(second, 1)["fate"])


@pytest.mark.parametrize(
    ("profile", "frame_us", "needed_us"), [("gfsk-1M", 201.0, 735.0), ("gfsk-2M", 100.5, 497.5)]
)
@pytest.mark.parametrize("share", [-0.999, -0.5, 0.0, 0.5, 0.999])
def test_retry_delays_far_enough_apart_clear_a_collision_at_once(
    profile: str, frame_us: float, needed_us: float, share: float
) -> None:
    # D from PS 7.4.2: 2 frames + 2 settle + acknowledgement, however the two overlapped.
    assert pair_that_collides(profile, needed_us, share * frame_us) == ({NEW}, {NEW})


@pytest.mark.parametrize(
    ("profile", "frame_us", "needed_us"), [("gfsk-1M", 201.0, 735.0), ("gfsk-2M", 100.5, 497.5)]
)
def test_retry_delays_a_little_nearer_do_not_always_clear_a_collision(
    profile: str, frame_us: float, needed_us: float
) -> None:
    # D, the other side of the limit: 1 us less, and the later retry meets a deaf receiver.
    fates = pair_that_collides(profile, needed_us - 1.0, frame_us - 0.1)

    assert fates == ({NEW}, {DEAF})


def test_equal_delays_and_lengths_collide_on_every_attempt() -> None:
    # D from PS 7.6 (M).
    trace = run(f"""
duration_s = 0.1
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = 0
[transmitter.drive]
period_ms = 20
offset_ms = 5
payload_bytes = 16
clock_ppm = 0
[transmitter.look]
period_ms = 20
offset_ms = 5.1
payload_bytes = 16
clock_ppm = 0
""")

    assert set(trace.attempts["fate"]) == {COLLISION}
    assert set(trace.frames["attempts"]) == {4}


@pytest.mark.parametrize("lost", range(1, 13))
def test_an_unchanged_frame_after_3_7_or_11_lost_ones_is_never_delivered(lost: int) -> None:
    # PS 7.3.3.2 (S): 2-bit packet number and checksum equal; D: every fourth frame.
    trace = run(f"""
duration_s = 0.6
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = 0
receiver.clock_ppm = 0
receiver.deaf = [{{ every_ms = 100000, for_ms = {20 * lost}, offset_ms = 90 }}]
[transmitter.drive]
period_ms = 20
offset_ms = 0
payload_bytes = 4
clock_ppm = 0
retry_limit = 0
""")
    fates = trace.attempts["fate"]
    after = int(np.flatnonzero(fates == DEAF)[-1]) + 1

    assert np.count_nonzero(fates == DEAF) == lost
    assert fates[after] == (DUPLICATE if lost % 4 == 3 else NEW)
    assert (after in trace.reads["frame"]) == (lost % 4 != 3)
    assert trace.frames["outcome"][after] == 0  # the sender sees an acknowledgement all the same
