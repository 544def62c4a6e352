"""The `[radio]` table: what every radio on the link agrees on."""

from typing import Annotated, Literal

from msgspec import Meta

from radiosim.described import key
from radiosim.number_kinds import LengthUs, TimeMs, TimeUs
from radiosim.radio.profiles import PROFILES
from radiosim.scenario.structs.shared_keys import (
    Milliamperes,
    PayloadBytes,
    PowerDbm,
    Table,
)

_BitRate = Annotated[int, Meta(ge=1_000, le=100_000_000)]
_Preamble = Annotated[int, Meta(ge=0, le=32)]
_Control = Annotated[int, Meta(ge=0, le=64)]
_Depth = Annotated[int, Meta(ge=1, le=1_000)]
_Level = Annotated[float, Meta(ge=-200, le=60)]
_Beside = Annotated[float, Meta(ge=-200, le=100)]
_Width = Annotated[float, Meta(ge=0.001, le=1000)]
_Neighbours = Annotated[tuple[tuple[_Width, _Beside], ...], Meta(max_length=20)]
_Currents = Annotated[tuple[tuple[PowerDbm, Milliamperes], ...], Meta(min_length=1, max_length=20)]
_Channel = Annotated[int, Meta(ge=0, le=125)]
_Address = Annotated[int, Meta(ge=3, le=5)]
_Ratio = Annotated[float, Meta(ge=0, le=100)]
_Checksum = Annotated[int, Meta(ge=0, le=2)]


class Radio(Table, frozen=True, kw_only=True):
    """What every radio on the link agrees on; left-out figures are those of the profile."""

    profile: Annotated[
        str,
        key(
            "kind of radio and rate; each of its figures can be given by its own key instead, and "
            "with all of them given a radio that is none of these",
            moves=(
                "stream.duty_cycle",
                "stream.lost_collision",
                "stream.lost_deaf",
                "stream.latency_ms",
            ),
            measure="the data rate that all firmware sets; ends that differ never hear each other",
            enum=tuple(PROFILES),
        ),
    ]
    channel: Annotated[
        _Channel,
        key(
            "centre frequency above 2400 MHz",
            "MHz",
            moves=(),
            measure=(
                "the channel that every firmware sets; scan the band first and keep clear of "
                "house networks"
            ),
        ),
    ] = 68
    address_bytes: Annotated[
        _Address,
        key(
            "length of every address",
            "bytes",
            moves=("stream.duty_cycle", "stream.lost_collision", "stream.noise.per_hour"),
            measure="the address width in the firmware; 5 where nobody changed it",
        ),
    ] = 5
    crc_bytes: Annotated[
        _Checksum,
        key(
            "length of the CRC; 0 only where nothing is acknowledged",
            "bytes",
            moves=("stream.duty_cycle", "stream.duplicates", "stream.noise.per_hour"),
            measure=(
                "the CRC length in the firmware; 2 is the common choice (common "
                "practice, no source)"
            ),
        ),
    ] = 2
    noise_frames: Annotated[
        bool | Literal["likely"],
        key(
            "whether noise that passes for frames is simulated; likely: where one comes in 1,000 h",
            moves=("stream.noise.frames", "stream.noise.per_hour"),
            measure=(
                "all transmitters off, print every frame that the receiver reads: it can only be "
                "noise"
            ),
        ),
    ] = "likely"
    payload_length: Annotated[
        Literal["own"] | PayloadBytes,
        key(
            "own: each frame at its own length; a number: all padded to it",
            "bytes",
            moves=("stream.duty_cycle", "stream.lost_collision", "stream.lost_deaf"),
            measure=(
                "look for a fixed payload size in the firmware; own needs dynamic payloads "
                "switched on at both ends"
            ),
        ),
    ] = "own"
    bit_rate: Annotated[
        _BitRate | None,
        key(
            "rate on the air",
            "bit/s",
            moves=("stream.duty_cycle", "stream.lost_collision", "stream.latency_ms"),
            measure="the data sheet; the profile has it",
        ),
    ] = None
    settle_us: Annotated[
        TimeUs | None,
        key(
            "from standby to active, and turn-round",
            "us",
            moves=("stream.lost_deaf", "stream.latency_ms"),
            measure=(
                "the data sheet; on a logic analyser: from the start signal to the "
                "interrupt, less the time on the air"
            ),
        ),
    ] = None
    interrupt_us: Annotated[
        TimeUs | None,
        key(
            "from a frame's last bit to the interrupt line",
            "us",
            moves=("stream.latency_ms",),
            measure="the data sheet; on the bench it hides in the settle time",
        ),
    ] = None
    preamble_bytes: Annotated[
        _Preamble | None,
        key(
            "length of the preamble",
            "bytes",
            moves=("stream.duty_cycle",),
            measure="the data sheet",
        ),
    ] = None
    control_bits: Annotated[
        _Control | None,
        key(
            "control field of the acknowledging format",
            "bits",
            moves=("stream.duty_cycle",),
            measure="the data sheet",
        ),
    ] = None
    fifo_frames: Annotated[
        _Depth | None,
        key(
            "depth of the transmit and of the receive FIFO",
            "frames",
            moves=("stream.fifo_dropped", "stream.latency_ms", "stream.queue_full"),
            measure=("the data sheet; or let the receiver sleep and count the frames that wait"),
        ),
    ] = None
    retry_settle: Annotated[
        bool | None,
        key(
            "whether a settle time follows the retry delay",
            moves=("stream.lost_collision", "stream.lost_deaf"),
            measure=(
                "switch the receiver off and time two attempts on the transmitter's supply "
                "current or with a second radio"
            ),
        ),
    ] = None
    acknowledge_window_us: Annotated[
        LengthUs | None,
        key(
            "how long a transmitter waits for the address of an acknowledgement",
            "us",
            moves=("stream.acknowledgements_lost", "stream.attempts_per_frame"),
            measure="the data sheet",
        ),
    ] = None
    crystal_start_us: Annotated[
        TimeUs | None,
        key(
            "start of the crystal after power-down",
            "us",
            moves=("faults.recovered_ms",),
            measure=(
                "the data sheet; or time from power-up to the first frame that is acknowledged"
            ),
        ),
    ] = None
    power_on_reset_ms: Annotated[
        TimeMs | None,
        key(
            "from power-on until the radio can be talked to",
            "ms",
            moves=("faults.recovered_ms",),
            measure=(
                "the data sheet; or lengthen the wait before set-up until the radio always "
                "acknowledgements"
            ),
        ),
    ] = None
    cochannel_db: Annotated[
        _Ratio | None,
        key(
            "how much stronger a signal must be than what overlaps it",
            "dB",
            moves=("stream.lost_collision",),
            measure=(
                "the data sheet: co-channel rejection; without air.range all signals count as "
                "equally strong, and any value above 0 does the same"
            ),
        ),
    ] = None
    rejection_db: Annotated[
        _Neighbours | None,
        key(
            "the same for a like transmitter on another channel: [[MHz away, dB], ...]; the last "
            "for "
            "all further off",
            "dB",
            moves=("stream.lost_collision",),
            measure="the data sheet: adjacent channel selectivity",
        ),
    ] = None
    sensitivity_dbm: Annotated[
        _Level | None,
        key(
            "level at which 1 bit in 1000 is wrong",
            "dBm",
            moves=(
                "stream.lost_range",
                "stream.gap_ms",
            ),
            measure="the data sheet; modules differ by some dB, which air.range.anchor takes up",
        ),
    ] = None
    max_input_dbm: Annotated[
        _Level | None,
        key(
            "strongest level that it takes",
            "dBm",
            moves=("stream.lost_range",),
            measure="the data sheet; on the bench: how near a transmitter can come without losses",
        ),
    ] = None
    bandwidth_mhz: Annotated[
        _Width | None,
        key(
            "width of its signal",
            "MHz",
            moves=("stream.lost_collision",),
            measure="the data sheet: least distance of channels",
        ),
    ] = None
    transmit_ma: Annotated[
        _Currents | None,
        key(
            "supply current while it sends: [[dBm, mA], ...]; straight in between",
            "mA",
            moves=("stream.charge_mah_per_hour", "receiver.charge_mah_per_hour"),
            measure="a current meter in the radio's supply; the data sheet has it",
        ),
    ] = None
    receive_ma: Annotated[
        Milliamperes | None,
        key(
            "supply current while it listens",
            "mA",
            moves=("stream.charge_mah_per_hour", "receiver.charge_mah_per_hour"),
            measure="a current meter in the radio's supply; the data sheet has it",
        ),
    ] = None
    transmit_settle_ma: Annotated[
        Milliamperes | None,
        key(
            "supply current on its way to sending",
            "mA",
            moves=("stream.charge_mah_per_hour", "receiver.charge_mah_per_hour"),
            measure="a current meter in the radio's supply; the data sheet has it",
        ),
    ] = None
    receive_settle_ma: Annotated[
        Milliamperes | None,
        key(
            "supply current on its way to listening",
            "mA",
            moves=("stream.charge_mah_per_hour", "receiver.charge_mah_per_hour"),
            measure="a current meter in the radio's supply; the data sheet has it",
        ),
    ] = None
    standby_ma: Annotated[
        Milliamperes | None,
        key(
            "supply current while it waits, crystal running",
            "mA",
            moves=("stream.charge_mah_per_hour", "receiver.charge_mah_per_hour"),
            measure="a current meter in the radio's supply; the data sheet has it",
        ),
    ] = None
    power_down_ma: Annotated[
        Milliamperes | None,
        key(
            "supply current asleep, as it counts until it is set up",
            "mA",
            moves=("stream.charge_mah_per_hour", "receiver.charge_mah_per_hour"),
            measure="a current meter in the radio's supply; the data sheet has it",
        ),
    ] = None
