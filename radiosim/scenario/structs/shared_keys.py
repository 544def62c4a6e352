"""Keys and kinds of number that several tables share: amounts, boards, works and deaf spans."""

from typing import Annotated, Literal

from msgspec import Meta, Struct

from radiosim.described import key
from radiosim.number_kinds import LengthMs, Share, TimeMs, TimeS, WaitMs

PayloadBytes = Annotated[int, Meta(ge=1, le=32)]
ClockPpm = Annotated[float, Meta(ge=-100_000, le=100_000)]
PowerDbm = Annotated[float, Meta(ge=-60, le=30)]
Milliamperes = Annotated[float, Meta(ge=0, le=1_000_000)]
SpiHz = Annotated[float, Meta(ge=1_000, le=100_000_000)]
MOST_NAMED = 64
"""Tables of one kind: more than any board has pins."""
MOST_LISTED = 200
"""Faults and requirements: more than anybody reads the results of."""
MOST_WORKS = 64
"""Things that hold one program up: more than any has."""
USUAL_BOOT_S = 1.0
"""A boot loader that waits for an upload, and a radio that is set up (facts 9: common practice)."""
Clock = Literal["crystal", "resonator", "internal"]
Drawn = Literal["drawn"]


class Table(Struct, frozen=True, forbid_unknown_fields=True):
    """One table of a scenario file; unknown keys are refused."""


SpiClock = Annotated[
    SpiHz,
    key(
        "clock of the bus to its radio",
        "Hz",
        moves=("stream.latency_ms",),
        measure=(
            "read the bus settings of the firmware; time one bit of the clock line with a"
            " logic analyser"
        ),
    ),
]
ResetBootS = Annotated[
    TimeS | None,
    key(
        "the same after a reset without loss of power (button, watchdog, brown-out); left out: as "
        "boot_s",
        "s",
        moves=("faults.recovered_ms", "stream.gap_ms"),
        measure=(
            "press its reset, and time it: a boot loader may wait after one kind of start only, "
            "and a calibration may be skipped"
        ),
    ),
]
WatchdogMs = Annotated[
    WaitMs,
    key(
        "a hung program is reset after this time; 0: never",
        "ms",
        moves=("faults.recovered_ms", "faults.reaction_ms"),
        measure=(
            "read the watchdog set-up of the firmware; put an endless loop behind a "
            "button and time the reset"
        ),
    ),
]
RecheckMs = Annotated[
    WaitMs,
    key(
        "how often it looks whether the radio lost its settings; 0: never",
        "ms",
        moves=("faults.recovered_ms",),
        measure=(
            "look for a read-back of the radio's registers in the loop; pull the "
            "radio's supply for a moment (on one board with the processor let a build write "
            "its registers back instead) and time the recovery"
        ),
    ),
]
BatteryMah = Annotated[
    Annotated[float, Meta(ge=0.001, le=1_000_000_000)] | None,
    key(
        "what its cell holds; left out: no hours are told",
        "mAh",
        moves=("stream.battery_h", "receiver.battery_h"),
        measure="the print on the cell, less a fifth for age and cold (common practice, no source)",
    ),
]
BoardMa = Annotated[
    Milliamperes,
    key(
        "what it draws from that cell besides its radio: board, lamps, servos",
        "mA",
        moves=("stream.battery_h", "receiver.battery_h"),
        measure="a current meter in the cell's lead with the radio out",
    ),
]

AmplifierMa = Annotated[
    Milliamperes | None,
    key(
        "what an amplifier behind its radio draws while it sends; needed to know the charge above "
        "the powers of radio.transmit_ma",
        "mA",
        moves=("stream.charge_mah_per_hour", "receiver.charge_mah_per_hour"),
        measure="a current meter in the module's supply while it sends without a pause, less the "
        "radio's own; the module's data sheet",
    ),
]


class Work(Table, frozen=True, kw_only=True):
    """Work that blocks a program's loop now and then (rule A4)."""

    every_ms: Annotated[
        LengthMs,
        key(
            "how often it is due",
            "ms",
            moves=("stream.latency_ms", "stream.gap_ms"),
            measure="read the interval in the firmware; toggle a pin at each",
        ),
    ]
    takes_ms: Annotated[
        LengthMs,
        key(
            "how long the loop stands still for it",
            "ms",
            moves=(
                "stream.latency_ms",
                "stream.gap_ms",
                "stream.fifo_dropped",
                "stream.skipped",
                "reaction.bound_ms",
            ),
            measure="toggle a pin before and after it, and take the longest",
        ),
    ]
    longest_ms: Annotated[
        LengthMs | None,
        key(
            "how long it takes at most, where it is stretched now and then; left out: never",
            "ms",
            moves=(
                "stream.latency_ms",
                "stream.gap_ms",
                "stream.fifo_dropped",
                "reaction.bound_ms",
            ),
            measure=(
                "keep the longest of an hour: buses that wait for a slow part, and cards that"
                " tidy up, stretch it"
            ),
        ),
    ] = None
    stretched_share: Annotated[
        Share,
        key(
            "share of its turns that are stretched, to any length up to longest_ms alike",
            moves=("stream.latency_ms", "stream.gap_ms"),
            measure="count the turns that take longer than usual, by all",
        ),
    ] = 1.0
    interrupts_off: Annotated[
        bool,
        key(
            "whether it also holds interrupts off",
            moves=("stream.latency_ms", "stream.gap_ms"),
            measure=(
                "look for a lock round the work; strips of addressable lamps and some buses"
                " hold interrupts off"
            ),
        ),
    ] = False
    offset_ms: Annotated[
        Drawn | TimeMs,
        key(
            "when it is first due after boot; drawn: anew each start",
            "ms",
            moves=("stream.latency_ms",),
            measure="leave it drawn unless the program starts it at a known time",
        ),
    ] = "drawn"

    @property
    def most_ms(self) -> float:
        """How long it can take."""
        return self.takes_ms if self.longest_ms is None else self.longest_ms


class Deaf(Table, frozen=True, kw_only=True):
    """Spans in which the receiver stops listening, for instance to send (rule D1)."""

    every_ms: Annotated[
        LengthMs,
        key(
            "how often it stops listening",
            "ms",
            moves=("stream.lost_deaf", "stream.gap_ms"),
            measure=(
                "find where the receiver's firmware stops listening in order to send, and how"
                " often it comes there"
            ),
        ),
    ]
    for_ms: Annotated[
        LengthMs,
        key(
            "for how long",
            "ms",
            moves=("stream.lost_deaf", "stream.gap_ms", "stream.failsafe.nuisance_trips"),
            measure=(
                "toggle a pin when it stops and when it starts to listen, and take the longest"
            ),
        ),
    ]
    offset_ms: Annotated[
        Drawn | TimeMs,
        key(
            "when it first does after boot; drawn: anew each start",
            "ms",
            moves=("stream.lost_deaf",),
            measure="leave it drawn unless the program starts it at a known time",
        ),
    ] = "drawn"


Works = Annotated[tuple[Work, ...], Meta(max_length=MOST_WORKS)]
Deafs = Annotated[tuple[Deaf, ...], Meta(max_length=MOST_WORKS)]
