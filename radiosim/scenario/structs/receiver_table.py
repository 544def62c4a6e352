"""The `[receiver]` table."""

from typing import Annotated, Literal

from msgspec import Meta

from radiosim.described import key
from radiosim.number_kinds import TimeS, TimeUs, TurnMs
from radiosim.safety import LOCAL_RULES
from radiosim.scenario.structs.antenna_tables import Antenna
from radiosim.scenario.structs.drift_table import Drift
from radiosim.scenario.structs.shared_keys import (
    USUAL_BOOT_S,
    AmplifierMa,
    BatteryMah,
    BoardMa,
    Clock,
    ClockPpm,
    Deafs,
    PowerDbm,
    RecheckMs,
    ResetBootS,
    SpiClock,
    Table,
    WatchdogMs,
    Works,
)
from radiosim.scenario.structs.supply_tables import Supply

_AnswerBytes = Annotated[int, Meta(ge=0, le=32)]


class Program(Table, frozen=True, kw_only=True):
    """The receiver's own program, which figures of outputs and failsafe are then taken from."""

    sources: Annotated[
        tuple[Annotated[str, Meta(min_length=1)], ...],
        Meta(min_length=1, max_length=64),
        key(
            "its C or C++ files, beside the scenario; or one image (.elf) for a chip",
            moves=("output.latency_ms", "output.update_rate_hz", "faults.reaction_ms"),
            measure="the files that the firmware is made of, without the board's own",
        ),
    ]
    on: Annotated[
        Literal["host", "core", "chip"],
        key(
            "what it runs on: host is this machine, core and chip are emulated",
            moves=("output.latency_ms", "faults.reaction_ms"),
            measure="host is enough but for the widths of numbers, which core tells",
        ),
    ] = "host"
    pins: Annotated[
        str | None,
        key(
            "what is on which pin of the chip: mhz=16,select=B2,enable=B1,motor=D3",
            moves=("output.latency_ms",),
            measure="read the wiring",
        ),
    ] = None


class Receiver(Table, frozen=True, kw_only=True):
    """The unit on the vehicle: its radio and its program (rules D and E)."""

    clock: Annotated[
        Clock,
        key(
            "kind of clock; its error is drawn each start",
            moves=("reaction.bound_ms", "output.latency_ms"),
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
            moves=("reaction.bound_ms",),
            measure=(
                "let it count its own seconds for an hour and compare with a watch: one "
                "second in an hour is 278 ppm"
            ),
        ),
    ] = None
    clock_tick_ms: Annotated[
        TurnMs,
        key(
            "step in which its program counts time for failsafe: 1 where it counts milliseconds; "
            "0: none",
            "ms",
            moves=("reaction.bound_ms", "faults.reaction_ms", "stream.failsafe.nuisance_trips"),
            measure=(
                "read which clock of the firmware the timeout is compared with, and in which steps "
                "it goes: a system tick may be 10 ms though it tells milliseconds"
            ),
        ),
    ] = 0.0
    drift: Annotated[
        Drift | None,
        key(
            "how its clock's error moves while it warms up; left out: not at all",
            moves=("stream.gap_ms", "stream.lost_collision"),
            measure="see its keys",
        ),
    ] = None
    loop_ms: Annotated[
        TurnMs,
        key(
            "one turn of its loop, without reads and work",
            "ms",
            moves=(
                "stream.latency_ms",
                "output.latency_ms",
                "stream.fifo_dropped",
                "reaction.bound_ms",
            ),
            measure=(
                "toggle a pin once a pass and time it with a logic analyser, or count the "
                "passes of a second"
            ),
        ),
    ] = 1.0
    delay_ms: Annotated[
        TurnMs,
        key(
            "blocking delay at the end of each pass",
            "ms",
            moves=(
                "stream.latency_ms",
                "stream.fifo_dropped",
                "stream.retries_used_up",
                "output.latency_ms",
                "reaction.bound_ms",
            ),
            measure="add up the blocking waits of the loop",
        ),
    ] = 0.0
    read: Annotated[
        Literal["one", "all", "newest"],
        key(
            "what a pass reads: one frame, all that wait, or the newest of each stream",
            moves=(
                "stream.latency_ms",
                "stream.fifo_dropped",
                "stream.thrown_away",
                "output.latency_ms",
            ),
            measure=(
                "an if round the read is one; a while is all; a while that keeps only the "
                "last of each transmitter is newest"
            ),
        ),
    ] = "one"
    interrupt: Annotated[
        bool,
        key(
            "whether frames are read on arrival, not by the pass",
            moves=("stream.latency_ms", "stream.fifo_dropped", "output.latency_ms"),
            measure=(
                "see whether the radio's interrupt pin is wired and its routine reads the frame"
            ),
        ),
    ] = False
    work: Annotated[
        Works,
        key(
            "work that blocks its loop now and then",
            moves=(
                "stream.latency_ms",
                "stream.fifo_dropped",
                "output.latency_ms",
                "reaction.bound_ms",
            ),
            measure=(
                "list what the loop does beside reading and writing, and time each with a pin"
            ),
        ),
    ] = ()
    deaf: Annotated[
        Deafs,
        key(
            "spans in which it stops listening",
            moves=("stream.lost_deaf", "stream.gap_ms", "stream.failsafe.nuisance_trips"),
            measure="find where the firmware stops listening in order to send",
        ),
    ] = ()
    duplicate_memory: Annotated[
        Literal["pipe", "radio"],
        key(
            "what remembers the last packet number and CRC: each pipe, or one for all",
            moves=("stream.duplicates", "stream.read"),
            measure=(
                "not stated for all radios; send a retry with a frame of the other transmitter "
                "between, and see whether it is handed on twice"
            ),
        ),
    ] = "pipe"
    acknowledge_when_full: Annotated[
        bool,
        key(
            "whether a frame that finds the FIFO full is acknowledged all the same",
            moves=(
                "stream.acknowledged",
                "stream.fifo_dropped",
                "stream.retries_used_up",
                "air.occupancy",
            ),
            measure=(
                "stop the receiver's program and see whether the transmitter still counts "
                "successes after the FIFO is full"
            ),
        ),
    ] = False
    acknowledge_payload_bytes: Annotated[
        _AnswerBytes,
        key(
            "telemetry that each acknowledgement carries",
            "bytes",
            moves=("stream.lost_deaf", "stream.acknowledgements_lost", "air.occupancy"),
            measure=(
                "print sizeof of the struct that the receiver hands over as the "
                "acknowledgement's payload"
            ),
        ),
    ] = 0
    boot_s: Annotated[
        TimeS,
        key(
            "from power-on to its first pass",
            "s",
            moves=("faults.recovered_ms", "stream.gap_ms"),
            measure=("time from the switch to the first pulse on a servo pin: boot loader and all"),
        ),
    ] = USUAL_BOOT_S
    reset_boot_s: ResetBootS = None
    radio_survives: Annotated[
        bool,
        key(
            "whether the radio goes on while the program resets or browns out",
            moves=("faults.recovered_ms", "stream.latency_ms"),
            measure=(
                "press the receiver's reset while a transmitter counts successes: if they go on, "
                "it does"
            ),
        ),
    ] = True
    listens_in_boot: Annotated[
        bool,
        key(
            "whether a radio that survives goes on listening until the program is back; else its "
            "enable line falls with the program's pins",
            moves=("stream.lost_deaf", "faults.recovered_ms", "output.age_ms"),
            measure=(
                "hold the receiver's reset while a transmitter counts successes: if they end at "
                "once, not after as many frames as the FIFO holds, it does not listen"
            ),
        ),
    ] = True
    flush_on_boot: Annotated[
        bool,
        key(
            "whether the program empties the FIFO when it boots",
            moves=("output.age_ms", "faults.recovered_ms"),
            measure="look for a flush of the receive FIFO in the set-up",
        ),
    ] = False
    program: Annotated[
        Program | None,
        key(
            "its own program; left out: one that does what this table says",
            moves=("output.latency_ms", "output.update_rate_hz", "faults.reaction_ms"),
            measure="see its keys",
        ),
    ] = None
    supply: Annotated[
        Supply | None,
        key(
            "what feeds it; left out: nothing that outputs draw brings it down",
            moves=("receiver.brownouts",),
            measure="see its keys",
        ),
    ] = None
    antenna: Annotated[
        Antenna | None,
        key(
            "its antenna, if that does not give the same all round",
            moves=("stream.lost_range", "stream.gap_ms"),
            measure="see its keys",
        ),
    ] = None
    amplifier_ma: AmplifierMa = None
    battery_mah: BatteryMah = None
    board_ma: BoardMa = 0.0
    watchdog_ms: WatchdogMs = 0.0
    recheck_ms: RecheckMs = 0.0
    spi_hz: SpiClock = 8_000_000.0
    spi_overhead_us: Annotated[
        TimeUs,
        key(
            "bus time of one read beside its bytes",
            "us",
            moves=("stream.latency_ms",),
            measure="on a logic analyser: how long chip select is low, less the bytes",
        ),
    ] = 10.0
    unpack_us: Annotated[
        TimeUs,
        key(
            "computing time of its program for each frame that it reads: to unpack it and to work "
            "out what outputs get",
            "us",
            moves=("stream.latency_ms", "output.latency_ms", "reaction.bound_ms"),
            measure=(
                "toggle a pin once a frame was read and again when its values are written, and "
                "take the longest; 8-bit processors take some 60 to 120 us (timed on an "
                "emulated one, no source)"
            ),
        ),
    ] = 0.0
    power_dbm: Annotated[
        PowerDbm,
        key(
            "what it sends acknowledgements with",
            "dBm",
            moves=("receiver.charge_mah_per_hour",),
            measure=f"the level that the firmware sets; {LOCAL_RULES}",
        ),
    ] = 0.0

    @property
    def warm_boot_s(self) -> float:
        """How long it boots after a reset without loss of power."""
        return self.boot_s if self.reset_boot_s is None else self.reset_boot_s
