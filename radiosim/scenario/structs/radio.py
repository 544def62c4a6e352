"""The `[radio]` table: what every radio on the link agrees on."""

from typing import Annotated, Literal

from msgspec import Meta

from radiosim.radio.profiles import PROFILES
from radiosim.scenario.structs.amounts import NotNegative, PayloadBytes, Positive, Table, key

_BitRate = Annotated[int, Meta(ge=1_000, le=100_000_000)]
_Preamble = Annotated[int, Meta(ge=0, le=32)]
_Control = Annotated[int, Meta(ge=0, le=64)]
_Depth = Annotated[int, Meta(ge=1, le=1_000)]
_Channel = Annotated[int, Meta(ge=0, le=125)]
_Address = Annotated[int, Meta(ge=3, le=5)]
_Checksum = Annotated[int, Meta(ge=0, le=2)]


class Radio(Table, frozen=True, kw_only=True):
    """What every radio on the link agrees on; left-out figures are those of the profile."""

    profile: Annotated[
        str, Meta(description="kind of radio and rate", extra_json_schema={"enum": list(PROFILES)})
    ]
    channel: Annotated[_Channel, key("centre frequency above 2400 MHz", "MHz")] = 68
    address_bytes: Annotated[_Address, key("length of every address", "bytes")] = 5
    checksum_bytes: Annotated[
        _Checksum, key("length of the checksum; 0 only where nothing is acknowledged", "bytes")
    ] = 2
    payload_length: Annotated[
        Literal["own"] | PayloadBytes,
        key("own: each frame at its own length; a number: all padded to it", "bytes"),
    ] = "own"
    bit_rate: Annotated[_BitRate | None, key("rate on the air", "bit/s")] = None
    settle_us: Annotated[
        NotNegative | None, key("from standby to active, and turn-round", "us")
    ] = None
    interrupt_us: Annotated[
        NotNegative | None, key("from a frame's last bit to the interrupt line", "us")
    ] = None
    preamble_bytes: Annotated[_Preamble | None, key("length of the preamble", "bytes")] = None
    control_bits: Annotated[
        _Control | None, key("control field of the acknowledging format", "bits")
    ] = None
    fifo_frames: Annotated[
        _Depth | None, key("depth of the transmit and of the receive FIFO", "frames")
    ] = None
    retry_settle: Annotated[bool | None, key("whether a settle time follows the retry delay")] = (
        None
    )
    acknowledge_window_us: Annotated[
        Positive | None, key("how long a sender waits for the address of an answer", "us")
    ] = None
    crystal_start_us: Annotated[
        NotNegative | None, key("start of the crystal after power-down", "us")
    ] = None
    power_on_reset_ms: Annotated[
        NotNegative | None, key("from power-on until the radio can be talked to", "ms")
    ] = None
    cochannel_db: Annotated[
        NotNegative | None, key("how much stronger a signal must be than what overlaps it", "dB")
    ] = None
