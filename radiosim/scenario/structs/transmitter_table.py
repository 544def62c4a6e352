"""The `[transmitter.NAME]` tables."""

from typing import Annotated, Literal

from msgspec import Meta, field

from radiosim.described import key
from radiosim.number_kinds import LengthMs, LengthUs, TimeMs, TimeS, TimeUs
from radiosim.safety import LOCAL_RULES
from radiosim.scenario.structs.antenna_tables import HeldAntenna
from radiosim.scenario.structs.drift_table import Drift
from radiosim.scenario.structs.range_tables import Place
from radiosim.scenario.structs.shared_keys import (
    USUAL_BOOT_S,
    AmplifierMa,
    BatteryMah,
    BoardMa,
    Clock,
    ClockPpm,
    Drawn,
    PayloadBytes,
    PowerDbm,
    RecheckMs,
    ResetBootS,
    SpiClock,
    Table,
    WatchdogMs,
    Works,
)
from radiosim.signals import Signal

_Pipe = Annotated[int, Meta(ge=0, le=5)]
_Retries = Annotated[int, Meta(ge=0, le=15)]
_LoopMs = Annotated[float, Meta(ge=0.001, le=60_000)]


class TransmitterTable(Table, frozen=True, kw_only=True):
    """A hand-held or worn unit that samples controls and sends frames (rules A and B)."""

    layout: Annotated[
        str | None,
        key(
            "name of the layout of its frames",
            moves=("stream.duty_cycle", "stream.duplicates", "output.servo_error_deg"),
            measure="the struct that the firmware hands to the radio, field by field",
        ),
    ] = None
    payload_bytes: Annotated[
        PayloadBytes | None,
        key(
            "length of its frames where no layout is given",
            "bytes",
            moves=("stream.duty_cycle", "stream.lost_collision", "stream.latency_ms"),
            measure="print sizeof of the struct that the firmware sends",
        ),
    ] = None
    pipe: Annotated[
        _Pipe | None,
        key(
            "address slot of the receiver; left out: in file order, 1 to 5, then 0",
            moves=("stream.duplicates",),
            measure="the number beside the reading address in the receiver's firmware",
        ),
    ] = None
    address: Annotated[
        str | None,
        key(
            "bytes in hex, most significant first; left out: one with a good pattern",
            moves=("stream.acknowledgements_lost",),
            measure=(
                "the bytes in the firmware; most libraries write the lowest first (common "
                "practice, no source)"
            ),
        ),
    ] = None
    period_ms: Annotated[
        LengthMs | None,
        key(
            "from one sample to the next, with timer and elapsed",
            "ms",
            moves=(
                "stream.update_rate_hz",
                "stream.gap_ms",
                "stream.age_ms",
                "stream.lost_collision",
                "stream.failsafe.nuisance_trips",
                "air.occupancy",
                "stream.sampled",
                "output.update_rate_hz",
            ),
            measure=(
                "count the samples of a minute on the serial port: 60,000 divided by the count"
            ),
        ),
    ] = None
    pause_ms: Annotated[
        TimeMs | None,
        key(
            "from a frame's end to the next sample, with after_send",
            "ms",
            moves=(
                "stream.update_rate_hz",
                "stream.gap_ms",
                "stream.age_ms",
                "stream.lost_collision",
                "air.occupancy",
                "stream.sampled",
            ),
            measure=(
                "read the delay in the firmware; toggle a pin round it and time it with a "
                "logic analyser"
            ),
        ),
    ] = None
    pacing: Annotated[
        Literal["timer", "elapsed", "after_send"],
        key(
            "what decides when the next sample is taken",
            moves=("stream.update_rate_hz", "stream.gap_ms", "stream.lost_collision"),
            measure=(
                "read the loop: a hardware timer is timer, a look at the clock in each turn"
                " is elapsed, a wait after the send is after_send"
            ),
        ),
    ] = "timer"
    loop_ms: Annotated[
        _LoopMs,
        key(
            "one turn of its loop, with elapsed",
            "ms",
            moves=("stream.update_rate_hz", "stream.lost_collision"),
            measure="toggle a pin once a turn and time it with a logic analyser",
        ),
    ] = 0.2
    clock: Annotated[
        Clock,
        key(
            "kind of clock; its error is drawn each start",
            moves=("stream.gap_ms", "stream.lost_collision", "stream.failsafe.nuisance_trips"),
            measure=(
                "look for a metal can (crystal) or a three-legged part (resonator) by the "
                "chip; with neither it is internal"
            ),
        ),
    ] = "crystal"
    clock_ppm: Annotated[
        ClockPpm | None,
        key(
            "a fixed clock error, instead of a kind of clock",
            "ppm",
            moves=("stream.gap_ms", "stream.lost_collision"),
            measure=(
                "let it send for an hour and compare the count with a watch: one second in "
                "an hour is 278 ppm"
            ),
        ),
    ] = None
    drift: Annotated[
        Drift | None,
        key(
            "how its clock's error moves while it warms up, with timer; left out: not at all",
            moves=("stream.gap_ms", "stream.lost_collision"),
            measure="see its keys",
        ),
    ] = None
    offset_ms: Annotated[
        Drawn | TimeMs,
        key(
            "first sample after boot; drawn: anew each start",
            "ms",
            moves=("stream.gap_ms", "stream.lost_collision"),
            measure=(
                "leave it drawn: nobody switches two units on within a millisecond of each other"
            ),
        ),
    ] = "drawn"
    jitter_ms: Annotated[
        TimeMs,
        key(
            "latest that a sample comes after its time; does not add up",
            "ms",
            moves=("stream.gap_ms", "stream.lost_collision", "stream.age_ms"),
            measure=(
                "toggle a pin at every sample and look at the spread of a few hundred with "
                "a logic analyser; 0 is the worst case where two periods are equal"
            ),
        ),
    ] = 0.0
    dither_ms: Annotated[
        TimeMs,
        key(
            "how far each period is drawn longer or shorter, with timer; adds up, so that beats do "
            "not last",
            "ms",
            moves=("stream.gap_ms", "stream.lost_collision", "stream.failsafe.nuisance_trips"),
            measure=(
                "look for a random number in what sets the timer; log the time between samples: "
                "evenly spread by so much to either side of the period"
            ),
        ),
    ] = 0.0
    prepare_us: Annotated[
        TimeUs,
        key(
            "work between sample and upload",
            "us",
            moves=("stream.latency_ms", "output.latency_ms"),
            measure=(
                "toggle a pin at the sample and at the upload; sum the analogue reads and "
                "the sensor's bus time"
            ),
        ),
    ] = 0.0
    work: Annotated[
        Works,
        key(
            "work that blocks its loop now and then",
            moves=("stream.skipped", "stream.gap_ms", "stream.latency_ms"),
            measure="list what the loop does beside sending, and time each with a pin",
        ),
    ] = ()
    start_s: Annotated[
        TimeS,
        key(
            "when it is switched on",
            "s",
            moves=("stream.read", "stream.gap_ms"),
            measure="choose it: when somebody switches the unit on",
        ),
    ] = 0.0
    boot_s: Annotated[
        TimeS,
        key(
            "from power-on to its first sample",
            "s",
            moves=("faults.recovered_ms", "stream.gap_ms"),
            measure=(
                "time from the switch to the first frame: boot loader, sensor calibration and all"
            ),
        ),
    ] = USUAL_BOOT_S
    reset_boot_s: ResetBootS = None
    acknowledge: Annotated[
        bool | Literal["flag"],
        key(
            "true: asks for an acknowledgement; flag: says that it wants none; false: the plain "
            "format",
            moves=(
                "stream.delivery_ratio",
                "stream.gap_ms",
                "stream.lost_deaf",
                "stream.attempts_per_frame",
                "air.occupancy",
            ),
            measure=(
                "look for automatic acknowledgement in both firmwares: on unless somebody "
                "switched it off (common practice, no source)"
            ),
        ),
    ] = True
    retry_delay_us: Annotated[
        LengthUs,
        key(
            "from the end of an attempt to the next; radios know steps of 250",
            "us",
            moves=(
                "stream.lost_collision",
                "stream.attempts_per_frame",
                "stream.gap_ms",
                "stream.retries_used_up",
            ),
            measure="the retry set-up of the firmware, or the radio's retry register printed",
        ),
    ] = 500.0
    retry_limit: Annotated[
        _Retries,
        key(
            "retries after a first attempt without acknowledgement",
            moves=(
                "stream.delivery_ratio",
                "stream.retries_used_up",
                "stream.attempts_per_frame",
                "stream.skipped",
                "air.occupancy",
            ),
            measure=(
                "the count beside the retry delay in the firmware; 15 is a common choice "
                "(common practice, no source)"
            ),
        ),
    ] = 3
    when_busy: Annotated[
        Literal["skip", "wait", "queue", "replace"],
        key(
            "what happens to a sample while the radio is busy, with timer",
            moves=("stream.skipped", "stream.replaced", "stream.queue_full", "stream.latency_ms"),
            measure=(
                "read what the firmware does when the last frame is not done: return, wait, "
                "write to the FIFO, or keep the newest"
            ),
        ),
    ] = "skip"
    flush_on_retries_used_up: Annotated[
        bool,
        key(
            "whether a frame whose retries are used up is thrown out of the transmit FIFO",
            moves=("stream.latency_ms", "stream.queue_full", "stream.retries_used_up"),
            measure="look for a flush of the transmit FIFO after a failed send",
        ),
    ] = True
    start_signal: Annotated[
        Literal["pulse", "held"],
        key(
            "pulse: one frame goes out per slot; held: everything that waits",
            moves=("stream.latency_ms", "stream.queue_full"),
            measure=("see whether the radio's enable pin is pulsed for each frame or tied high"),
        ),
    ] = "pulse"
    payload_length: Annotated[
        Literal["link"] | PayloadBytes,
        key(
            "link: as the radio table says; a number: padded to it by this unit alone",
            "bytes",
            moves=("stream.duty_cycle", "stream.lost_collision", "stream.read"),
            measure="look for a payload size in this firmware that the others do not set",
        ),
    ] = "link"
    spi_hz: SpiClock = 8_000_000.0
    spi_overhead_us: Annotated[
        TimeUs,
        key(
            "bus time of one upload beside its bytes",
            "us",
            moves=("stream.latency_ms",),
            measure="on a logic analyser: how long chip select is low, less the bytes",
        ),
    ] = 10.0
    place: Annotated[
        Place | None,
        key(
            "where it stands, if not where air.range says",
            moves=("stream.lost_range",),
            measure="see its keys",
        ),
    ] = None
    antenna: Annotated[
        HeldAntenna | None,
        key(
            "its antenna, if that does not give the same all round",
            moves=("stream.lost_range", "stream.gap_ms"),
            measure="see its keys",
        ),
    ] = None
    power_dbm: Annotated[
        PowerDbm,
        key(
            "what it sends with",
            "dBm",
            moves=("stream.charge_mah_per_hour",),
            measure=f"the level that the firmware sets; {LOCAL_RULES}",
        ),
    ] = 0.0
    amplifier_ma: AmplifierMa = None
    battery_mah: BatteryMah = None
    board_ma: BoardMa = 0.0
    watchdog_ms: WatchdogMs = 0.0
    recheck_ms: RecheckMs = 0.0
    signals: Annotated[
        dict[str, Signal],
        key(
            "what each field of its frames does",
            moves=("output.servo_error_deg", "stream.duplicates"),
            measure="record the sticks on the serial port while driving",
        ),
    ] = field(default_factory=dict)


class Transmitter(TransmitterTable, frozen=True, kw_only=True):
    """A transmitter after completion: layout, pipe, address and every field's signal are set."""

    layout: Annotated[str, key("name of the layout of its frames")]
    pipe: Annotated[_Pipe, key("address slot of the receiver")]
    address: Annotated[str, key("bytes in hex, most significant first, a space between")]

    @property
    def shortest_ms(self) -> float | None:
        """Shortest period that it may draw (rule J0); None without a period."""
        return None if self.period_ms is None else self.period_ms - self.dither_ms

    @property
    def longest_ms(self) -> float | None:
        """Longest period that it may draw (rule J0); None without a period."""
        return None if self.period_ms is None else self.period_ms + self.dither_ms

    @property
    def adds_up(self) -> bool:
        """Whether one late sample makes all later ones late (rules A2, A3 and J0)."""
        return self.pacing != "timer" or self.dither_ms > 0

    @property
    def warm_boot_s(self) -> float:
        """How long it boots after a reset without loss of power."""
        return self.boot_s if self.reset_boot_s is None else self.reset_boot_s

    @property
    def address_octets(self) -> bytes:
        """The address as bytes, most significant first."""
        return bytes.fromhex(self.address)
