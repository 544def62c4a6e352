"""The `[receiver]` table."""

from typing import Annotated, Literal

from msgspec import Meta

from radiosim.scenario.structs.amounts import (
    Clock,
    ClockPpm,
    NotNegative,
    PowerDbm,
    SpiHz,
    Table,
    key,
)
from radiosim.scenario.structs.work import Deaf, Work

_AnswerBytes = Annotated[int, Meta(ge=0, le=32)]


class Receiver(Table, frozen=True, kw_only=True):
    """The unit on the vehicle: its radio and its program (rules D and E)."""

    clock: Annotated[Clock, key("kind of clock; its error is drawn each start")] = "crystal"
    clock_ppm: Annotated[
        ClockPpm | None, key("a fixed clock error, instead of a kind of clock", "ppm")
    ] = None
    pass_ms: Annotated[NotNegative, key("one turn of its loop, without reads and work", "ms")] = 1.0
    delay_ms: Annotated[NotNegative, key("blocking delay at the end of each pass", "ms")] = 0.0
    read: Annotated[
        Literal["one", "all", "newest"],
        key("what a pass reads: one frame, all that wait, or the newest of each stream"),
    ] = "one"
    interrupt: Annotated[bool, key("whether frames are read on arrival, not by the pass")] = False
    work: Annotated[tuple[Work, ...], key("work that blocks its loop now and then")] = ()
    deaf: Annotated[tuple[Deaf, ...], key("spans in which it stops listening")] = ()
    duplicate_memory: Annotated[
        Literal["pipe", "radio"],
        key("what remembers the last packet number and checksum: each pipe, or one for all"),
    ] = "pipe"
    acknowledge_when_full: Annotated[
        bool, key("whether a frame that finds the FIFO full is acknowledged all the same")
    ] = False
    acknowledge_payload_bytes: Annotated[
        _AnswerBytes, key("telemetry that each acknowledgement carries", "bytes")
    ] = 0
    boot_s: Annotated[NotNegative, key("from power-on or reset to its first pass", "s")] = 0.0
    radio_survives: Annotated[
        bool, key("whether the radio goes on while the program resets or browns out")
    ] = True
    flush_on_boot: Annotated[bool, key("whether the program empties the FIFO when it boots")] = (
        False
    )
    watchdog_ms: Annotated[
        NotNegative, key("a hung program is reset after this time; 0: never", "ms")
    ] = 0.0
    recheck_ms: Annotated[
        NotNegative,
        key("how often it looks whether the radio lost its settings; 0: never", "ms"),
    ] = 0.0
    spi_hz: Annotated[SpiHz, key("clock of the bus to its radio", "Hz")] = 8_000_000.0
    spi_overhead_us: Annotated[NotNegative, key("bus time of one read beside its bytes", "us")] = (
        10.0
    )
    power_dbm: Annotated[PowerDbm, key("what it sends acknowledgements with", "dBm")] = 0.0
