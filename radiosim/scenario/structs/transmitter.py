"""The `[transmitter.NAME]` tables."""

from typing import Annotated, Literal

from msgspec import Meta, field

from radiosim.scenario.structs.amounts import (
    Clock,
    ClockPpm,
    Drawn,
    NotNegative,
    PayloadBytes,
    Positive,
    PowerDbm,
    SpiHz,
    Table,
    key,
)
from radiosim.scenario.structs.work import Work
from radiosim.signals import Signal

_Pipe = Annotated[int, Meta(ge=0, le=5)]
_Retries = Annotated[int, Meta(ge=0, le=15)]
_LoopUs = Annotated[float, Meta(ge=1)]


class TransmitterTable(Table, frozen=True, kw_only=True):
    """A hand-held or worn unit that samples controls and sends frames (rules A and B)."""

    layout: Annotated[str | None, key("name of the layout of its frames")] = None
    payload_bytes: Annotated[
        PayloadBytes | None, key("length of its frames where no layout is given", "bytes")
    ] = None
    pipe: Annotated[
        _Pipe | None, key("address slot of the receiver; left out: in file order, 1 to 5, then 0")
    ] = None
    address: Annotated[
        str | None,
        key("bytes in hex, most significant first; left out: one with a good pattern"),
    ] = None
    period_ms: Annotated[
        Positive | None, key("from one sample to the next, with timer and elapsed", "ms")
    ] = None
    pause_ms: Annotated[
        NotNegative | None, key("from a frame's end to the next sample, with after_send", "ms")
    ] = None
    pacing: Annotated[
        Literal["timer", "elapsed", "after_send"],
        key("what decides when the next sample is taken"),
    ] = "timer"
    loop_us: Annotated[_LoopUs, key("one turn of its loop, with elapsed", "us")] = 200.0
    clock: Annotated[Clock, key("kind of clock; its error is drawn each start")] = "crystal"
    clock_ppm: Annotated[
        ClockPpm | None, key("a fixed clock error, instead of a kind of clock", "ppm")
    ] = None
    offset_ms: Annotated[
        Drawn | NotNegative, key("first sample after boot; drawn: anew each start", "ms")
    ] = "drawn"
    jitter_ms: Annotated[
        NotNegative, key("latest that a sample comes after its time; does not add up", "ms")
    ] = 0.0
    prepare_us: Annotated[NotNegative, key("work between sample and upload", "us")] = 0.0
    work: Annotated[tuple[Work, ...], key("work that blocks its loop now and then")] = ()
    start_s: Annotated[NotNegative, key("when it is switched on", "s")] = 0.0
    boot_s: Annotated[NotNegative, key("from power-on to its first sample", "s")] = 0.0
    acknowledge: Annotated[
        bool | Literal["flag"],
        key("true: asks for an answer; flag: says that it wants none; false: the plain format"),
    ] = True
    retry_delay_us: Annotated[
        Positive, key("from the end of an attempt to the next; radios know steps of 250", "us")
    ] = 500.0
    retry_limit: Annotated[_Retries, key("retries after a first attempt without answer")] = 3
    when_busy: Annotated[
        Literal["skip", "wait", "queue", "replace"],
        key("what happens to a sample while the radio is busy, with timer"),
    ] = "skip"
    flush_on_give_up: Annotated[
        bool, key("whether a frame that was given up is thrown out of the transmit FIFO")
    ] = True
    start_signal: Annotated[
        Literal["pulse", "held"],
        key("pulse: one frame goes out per slot; held: everything that waits"),
    ] = "pulse"
    payload_length: Annotated[
        Literal["link"] | PayloadBytes,
        key("link: as the radio table says; a number: padded to it by this unit alone", "bytes"),
    ] = "link"
    spi_hz: Annotated[SpiHz, key("clock of the bus to its radio", "Hz")] = 8_000_000.0
    spi_overhead_us: Annotated[
        NotNegative, key("bus time of one upload beside its bytes", "us")
    ] = 10.0
    power_dbm: Annotated[PowerDbm, key("what it sends with", "dBm")] = 0.0
    watchdog_ms: Annotated[
        NotNegative, key("a hung program is reset after this time; 0: never", "ms")
    ] = 0.0
    recheck_ms: Annotated[
        NotNegative,
        key("how often it looks whether the radio lost its settings; 0: never", "ms"),
    ] = 0.0
    signals: Annotated[dict[str, Signal], key("what each field of its frames does")] = field(
        default_factory=dict
    )


class Transmitter(TransmitterTable, frozen=True, kw_only=True):
    """A transmitter after completion: layout, pipe, address and every field's signal are set."""

    layout: Annotated[str, key("name of the layout of its frames")]
    pipe: Annotated[_Pipe, key("address slot of the receiver")]
    address: Annotated[str, key("bytes in hex, most significant first, a space between")]

    @property
    def address_octets(self) -> bytes:
        """The address as bytes, most significant first."""
        return bytes.fromhex(self.address)
