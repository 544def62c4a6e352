"""Bits, time on air, cycle, start and deaf time of the acknowledging packet radio.

Sources, all from Nordic Semiconductor, "Single Chip 2.4GHz Transceiver, Product Specification"
v1.0, 2008 (PS), and the preliminary specification of 2005/06 (PS1). Times are compared to the
nanosecond: they are sums of printed figures.
"""

import numpy as np
import pytest

from radiosim.engine.plan import make_plan
from radiosim.radio.air_frame import bits_ns, frame_bits
from radiosim.radio.profiles import PROFILES
from radiosim.scenario import parse
from radiosim.trace import COLLISION, DEAF, NEW, OFF
from tests.reference.outside import DERIVED, DERIVED_FROM_MEMORY, MEMORY, SEEN, check, outside
from tests.reference.runs import UP_AT_ONCE, of_stream, one_transmitter, run
from tests.reference.sources import PS, PS1

RATES = ("gfsk-250k", "gfsk-1M", "gfsk-2M")


@outside(
    "bits of an acknowledging frame, 5-byte address, 2-byte CRC",
    source=PS.at("7.3"),
    status=DERIVED,
    unit="bits",
)
@pytest.mark.parametrize(("payload_bytes", "bits"), [(0, 73), (8, 137), (16, 201), (32, 329)])
def test_bits_of_an_acknowledging_frame_are_the_printed_parts(
    payload_bytes: int, bits: int
) -> None:
    check.same(frame_bits(payload_bytes, address_bytes=5, crc_bytes=2), bits)


@outside("bits of a plain frame", source=PS1.at("table 12"), status=DERIVED, unit="bits")
@pytest.mark.parametrize(("payload_bytes", "bits"), [(1, 72), (8, 128), (32, 320)])
def test_bits_of_a_plain_frame_lack_the_control_field(payload_bytes: int, bits: int) -> None:
    plain = frame_bits(payload_bytes, address_bytes=5, crc_bytes=2, control_bits=0)

    check.same(plain, bits)


@outside(
    "time on air of a frame",
    source=f"{PS.at('7.3')}; {PS.key} front page",
    status=DERIVED,
    unit="us",
)
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
    bits = frame_bits(payload_bytes, address_bytes=5, crc_bytes=2)

    check.same(bits_ns(bits, PROFILES[profile].bit_rate) / 1000, on_air_us)


@outside(
    "time on air of the attempts of a run",
    source=f"{PS.at('7.3')}; {PS.key} front page",
    status=DERIVED,
    unit="us",
)
@pytest.mark.parametrize(
    ("profile", "payload_bytes", "on_air_us"),
    [("gfsk-250k", 8, 548.0), ("gfsk-1M", 32, 329.0), ("gfsk-2M", 8, 68.5)],
)
def test_attempts_of_a_run_last_their_time_on_air(
    profile: str, payload_bytes: int, on_air_us: float
) -> None:
    attempts = run(one_transmitter(profile, payload_bytes)).attempts

    assert len(attempts) == 15
    for on_air_ns in attempts["end_ns"] - attempts["start_ns"]:
        check.same(on_air_ns / 1000, on_air_us)


@outside(
    "time on air by address and CRC length, 8 bytes at 1 Mbit/s",
    source=PS.at("7.3"),
    status=DERIVED,
    unit="us",
)
@pytest.mark.parametrize(
    ("address_bytes", "crc_bytes", "keys", "on_air_us"),
    [
        # Preamble 8, address, control field 9, payload 64, CRC: bits, and us at 1 Mbit/s.
        (3, 1, "", 113.0),
        (3, 2, "", 121.0),
        (4, 1, "", 121.0),
        (4, 2, "", 129.0),
        (5, 1, "", 129.0),
        (5, 2, "", 137.0),
        # Without acknowledgement there is no control field, and there need be no CRC.
        (3, 0, "acknowledge = false", 96.0),
        (4, 0, "acknowledge = false", 104.0),
        (5, 0, "acknowledge = false", 112.0),
        (3, 1, "acknowledge = false", 104.0),
        (5, 2, "acknowledge = false", 128.0),
    ],
)
def test_attempts_last_longer_by_every_byte_of_address_and_crc(
    address_bytes: int, crc_bytes: int, keys: str, on_air_us: float
) -> None:
    lengths = f"radio.address_bytes = {address_bytes}\nradio.crc_bytes = {crc_bytes}\n"
    text = one_transmitter("gfsk-1M", 8, keys=keys, receiver=UP_AT_ONCE + lengths)
    attempts = run(text).attempts

    assert len(attempts) == 15
    for on_air_ns in attempts["end_ns"] - attempts["start_ns"]:
        check.same(on_air_ns / 1000, on_air_us)


@outside(
    "time on air of acknowledgements by address and CRC length, empty, at 1 Mbit/s",
    source=PS.at("7.3"),
    status=DERIVED,
    unit="us",
)
@pytest.mark.parametrize(
    ("address_bytes", "crc_bytes", "on_air_us"),
    [(3, 1, 49.0), (4, 2, 65.0), (5, 1, 65.0), (5, 2, 73.0)],
)
def test_acknowledgements_last_longer_by_every_byte_of_address_and_crc(
    address_bytes: int, crc_bytes: int, on_air_us: float
) -> None:
    lengths = f"radio.address_bytes = {address_bytes}\nradio.crc_bytes = {crc_bytes}\n"
    tx = make_plan(parse(one_transmitter("gfsk-1M", 8, receiver=UP_AT_ONCE + lengths)), 0).tx[0]

    check.same(tx.ack_ns / 1000, on_air_us)


@outside(
    "time on air of plain attempts, 32 bytes at 1 Mbit/s",
    source=PS1.at("table 12"),
    status=DERIVED,
    unit="us",
)
def test_plain_attempts_of_a_run_are_nine_bits_shorter() -> None:
    attempts = run(one_transmitter("gfsk-1M", 32, keys="acknowledge = false")).attempts

    for on_air_ns in attempts["end_ns"] - attempts["start_ns"]:
        check.same(on_air_ns / 1000, 320.0)


@outside(
    "whole cycle and the upload of a command byte, 32 bytes, SPI at 8 MHz",
    source=PS.at("7.7"),
    status=DERIVED_FROM_MEMORY,
    unit="us",
)
@pytest.mark.parametrize(("profile", "cycle_us"), [("gfsk-1M", 702.2), ("gfsk-2M", 499.0)])
def test_whole_cycle_of_a_run_is_the_printed_sum(profile: str, cycle_us: float) -> None:
    # Upload + 2 settle + frame + acknowledgement + interrupt.
    # The printed upload counts payload bytes alone; the command byte takes 1 us more (rule B1).
    frames = run(one_transmitter(profile, 32)).frames

    for cycle_ns in frames["done_ns"] - frames["sampled_ns"]:
        check.same(cycle_ns / 1000, cycle_us + 1.0)


@outside(
    "settle, empty acknowledgement, settle",
    source=f"{PS.at('5.1')}; {PS.at('7.8')}",
    status=DERIVED,
    unit="us",
)
@pytest.mark.parametrize(
    ("profile", "deaf_us"), [("gfsk-250k", 552.0), ("gfsk-1M", 333.0), ("gfsk-2M", 296.5)]
)
def test_an_acknowledgement_with_its_turns_takes_the_deaf_time(
    profile: str, deaf_us: float
) -> None:
    trace = run(one_transmitter(profile, 8))
    turned_ns = trace.acknowledgements["start_ns"] - trace.attempts["end_ns"]
    over_ns = trace.acknowledgements["end_ns"] - trace.attempts["end_ns"]

    assert set(turned_ns) == {130_000}
    for over in over_ns + 130_000:
        check.same(over / 1000, deaf_us)


@outside(
    "deaf time as a second transmitter that slips past measures it",
    source=f"{PS.at('5.1')}; {PS.at('7.8')}",
    status=DERIVED,
    unit="us",
)
@pytest.mark.parametrize(
    ("profile", "deaf_us", "overlap_us"),
    [
        ("gfsk-250k", 552.0, 548.0 + 324.0),
        ("gfsk-1M", 333.0, 137.0 + 81.0),
        ("gfsk-2M", 296.5, 68.5 + 40.5),
    ],
)
def test_a_second_transmitter_slipping_past_measures_the_deaf_time(
    profile: str, deaf_us: float, overlap_us: float
) -> None:
    # The probe (1 byte, asks for no acknowledgement) starts 0.5 us later on every frame, so
    # frames lost x 0.5 us is the length of what took them; a count of equally spaced points in a
    # span is right to less than one point. It starts 1 ms before the other and ends 1.4 ms after.
    slip_us = 0.5
    trace = run(f"""
duration_s = 96
radio.profile = "{profile}"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
[transmitter.drive]
boot_s = 0
period_ms = 20
offset_ms = 6
payload_bytes = 8
clock_ppm = 0
retry_limit = 0
[transmitter.probe]
boot_s = 0
period_ms = 20
offset_ms = 5
payload_bytes = 1
clock_ppm = 25
acknowledge = "flag"
""")
    fates = of_stream(trace.attempts, 1)["fate"]

    check.near(np.count_nonzero(fates == DEAF) * slip_us, deaf_us, within=slip_us)
    check.near(np.count_nonzero(fates == COLLISION) * slip_us, overlap_us, within=slip_us)


@outside(
    "from a frame's last bit to the interrupt",
    source=PS.at("7.7"),
    status=MEMORY,
    unit="us",
)
@pytest.mark.parametrize(("profile", "interrupt_us"), [("gfsk-1M", 8.2), ("gfsk-2M", 6.0)])
def test_a_frame_stands_in_the_fifo_an_interrupt_time_after_its_end(
    profile: str, interrupt_us: float
) -> None:
    trace = run(one_transmitter(profile, 8))

    for waited_ns in trace.reads["accepted_ns"] - trace.attempts["end_ns"]:
        check.same(waited_ns / 1000, interrupt_us)


@outside(
    "power-on reset, crystal start, settle, then it listens",
    source=f"{PS.at('5.1')}; {PS.at('6.1')}",
    status=DERIVED_FROM_MEMORY,
    unit="us",
)
@pytest.mark.parametrize("profile", RATES)
def test_a_receiver_listens_a_power_on_after_the_start(profile: str) -> None:
    # A frame of 1 byte reaches the air a settle time and an upload after its sample.
    upload_ns, settle_ns = 2_000, 130_000

    def is_heard(start_ns: int) -> bool:
        offset_ms = (start_ns - settle_ns - upload_ns) / 1e6
        keys = f"payload_bytes = 1\noffset_ms = {offset_ms}\nperiod_ms = 1000\nretry_limit = 0"
        trace = run(one_transmitter(profile, None, keys=keys, receiver=""))
        (attempt,) = trace.attempts
        assert attempt["start_ns"] == start_ns
        assert attempt["fate"] in (OFF, NEW)
        return bool(attempt["fate"] == NEW)

    deaf_ns, heard_ns = 90_000_000, 120_000_000
    while heard_ns - deaf_ns > 1:
        middle_ns = (deaf_ns + heard_ns) // 2
        deaf_ns, heard_ns = (deaf_ns, middle_ns) if is_heard(middle_ns) else (middle_ns, heard_ns)

    check.same(heard_ns / 1000, 100_000.0 + 1_500.0 + 130.0)


@outside("largest clock error of a crystal", source=f"{PS.key} front page", status=SEEN, unit="ppm")
def test_crystals_are_drawn_up_to_60_ppm_off() -> None:
    scenario = parse(one_transmitter("gfsk-1M", 8).replace("clock_ppm = 0\n", ""))
    errors_ppm = [abs(make_plan(scenario, start).tx[0].ppb) / 1000 for start in range(2000)]

    # 2,000 even draws all stay below 59.5 with a chance of 6e-8.
    check.between(max(errors_ppm), 59.5, 60.0, expected=60.0)
