"""Times of a transmitter's frames in plain numbers, against the packet format."""

import pytest

from radiosim.engine.plan import make_plan
from radiosim.scenario import parse


# Worked from PS 7.3 (status S): preamble 1, address 3 to 5, control 9 bits, payload, CRC 0 to 2; at
# 1 Mbit/s a bit takes 1,000 ns.
@pytest.mark.parametrize("address", [3, 4, 5])
@pytest.mark.parametrize("crc", [1, 2])
def test_every_part_of_a_frame_lasts_as_long_as_its_bits(address: int, crc: int) -> None:
    given = parse(f"""
radio = {{ profile = "gfsk-1M", address_bytes = {address}, crc_bytes = {crc} }}
transmitter.drive = {{ period_ms = 20, payload_bytes = 6 }}
receiver.acknowledge_payload_bytes = 2
""")
    (tx,) = make_plan(given, 0).tx

    bits = 8 * (1 + address + crc) + 9
    assert tx.frame_ns == 1_000 * (bits + 8 * 6)
    assert tx.ack_ns == 1_000 * (bits + 8 * 2)
    assert tx.address_ns == tx.ack_address_ns == 1_000 * 8 * (1 + address)
    # Of noise no preamble is heard (rule D6).
    assert tx.noise_ns == tx.frame_ns - 8_000
