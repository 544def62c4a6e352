"""How long a frame keeps its transmitter."""

from radiosim.radio.time_on_air import bits_ns, frame_bits, upload_ns
from radiosim.scenario.structs.scenario import Scenario
from radiosim.scenario.structs.transmitter import Transmitter
from radiosim.units import ns_from_us


def sending_ns(scenario: Scenario, name: str, unit: Transmitter) -> tuple[int, int]:
    """From a sample until the transmitter is free: after one attempt, and after giving up (rule
    B)."""
    profile, radio = scenario.profile(), scenario.radio
    length = radio.payload_length if unit.payload_length == "link" else unit.payload_length
    payload_bytes = length if isinstance(length, int) else scenario.layout_of(name).size_bytes

    def on_air_ns(payload_bytes: int) -> int:
        bits = frame_bits(
            payload_bytes,
            address_bytes=radio.address_bytes,
            crc_bytes=radio.crc_bytes,
            preamble_bytes=profile.preamble_bytes,
            control_bits=0 if unit.acknowledge is False else profile.control_bits,
        )
        return bits_ns(bits, profile.bit_rate)

    settle_ns, frame_ns = ns_from_us(profile.settle_us), on_air_ns(payload_bytes)
    uploaded_ns = upload_ns(payload_bytes, unit.spi_hz, ns_from_us(unit.spi_overhead_us))
    ready_ns = ns_from_us(unit.prepare_us) + uploaded_ns + settle_ns
    if unit.acknowledge is not True:
        return ready_ns + frame_ns, ready_ns + frame_ns
    answer_ns = settle_ns + on_air_ns(scenario.receiver.acknowledge_payload_bytes)
    retry_ns = ns_from_us(unit.retry_delay_us) + (settle_ns if profile.retry_settle else 0)
    one_ns = ready_ns + frame_ns + answer_ns + ns_from_us(profile.interrupt_us)
    return one_ns, ready_ns + (unit.retry_limit + 1) * (frame_ns + retry_ns)
