"""What takes a program's time now and then."""

from typing import Annotated

from msgspec import Meta

from radiosim.described import key
from radiosim.scenario.structs.amounts import MOST_WORKS, Drawn, NotNegative, Positive, Table


class Work(Table, frozen=True, kw_only=True):
    """Work that blocks a program's loop now and then (rule A4)."""

    every_ms: Annotated[
        Positive,
        key(
            "how often it is due",
            "ms",
            moves=("stream.latency_ms", "stream.gap_ms"),
            measure="read the interval in the firmware; toggle a pin at each",
        ),
    ]
    takes_ms: Annotated[
        Positive,
        key(
            "how long the loop stands still for it",
            "ms",
            moves=(
                "stream.latency_ms",
                "stream.gap_ms",
                "stream.fifo_dropped",
                "stream.skipped",
                "stopping.bound_ms",
            ),
            measure="toggle a pin before and after it, and take the longest",
        ),
    ]
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
        Drawn | NotNegative,
        key(
            "when it is first due after boot; drawn: anew each start",
            "ms",
            moves=("stream.latency_ms",),
            measure="leave it drawn unless the program starts it at a known time",
        ),
    ] = "drawn"


class Deaf(Table, frozen=True, kw_only=True):
    """Spans in which the receiver stops listening, for instance to send (rule D1)."""

    every_ms: Annotated[
        Positive,
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
        Positive,
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
        Drawn | NotNegative,
        key(
            "when it first does after boot; drawn: anew each start",
            "ms",
            moves=("stream.lost_deaf",),
            measure="leave it drawn unless the program starts it at a known time",
        ),
    ] = "drawn"


Works = Annotated[tuple[Work, ...], Meta(max_length=MOST_WORKS)]
Deafs = Annotated[tuple[Deaf, ...], Meta(max_length=MOST_WORKS)]
