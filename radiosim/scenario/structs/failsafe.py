"""The `[failsafe.STREAM]` tables."""

from typing import Annotated, Literal

from msgspec import Meta

from radiosim.described import key
from radiosim.scenario.structs.amounts import NotNegative, Positive, Table

_Frames = Annotated[int, Meta(ge=1, le=1_000_000)]


class ResumeNeeds(Table, frozen=True, kw_only=True):
    """What must hold before outputs come alive again (rule F3)."""

    field: Annotated[
        str,
        key(
            "field of the stream that must be near its neutral",
            moves=("faults.recovered_ms",),
            measure="choose it: the stick that would make the vehicle lurch",
        ),
    ]
    within: Annotated[
        NotNegative,
        key(
            "how near, in the field's own unit",
            moves=("faults.recovered_ms",),
            measure=(
                "let go of the stick many times and print where it comes to rest; take "
                "twice the spread"
            ),
        ),
    ]


class Failsafe(Table, frozen=True, kw_only=True):
    """The timer of one stream (rules F1 to F3)."""

    timeout_ms: Annotated[
        Positive,
        key(
            "silence after which failsafe comes on",
            "ms",
            moves=(
                "stream.failsafe.nuisance_trips",
                "stream.failsafe.trips_on_fault",
                "stopping.bound_ms",
                "faults.reaction_ms",
            ),
            measure=(
                "the figure in the receiver's firmware; on the bench, wheels up, switch the "
                "transmitter off and time until the output stops"
            ),
        ),
    ]
    fed_by: Annotated[
        Literal["own", "any"],
        key(
            "whose frames feed it: this stream's, or any stream's",
            moves=("stream.failsafe.trips_on_fault", "faults.reaction_ms", "stopping.bound_ms"),
            measure=(
                "see whether the time of the last frame is noted for each transmitter or once "
                "for all; switch one transmitter off, wheels up, while the other sends"
            ),
        ),
    ] = "own"
    fed_at: Annotated[
        Literal["read", "arrival"],
        key(
            "when a frame feeds it: when the program reads it, or when the radio got it",
            moves=("stream.failsafe.nuisance_trips", "faults.reaction_ms", "stopping.bound_ms"),
            measure=(
                "see whether the time is noted in the interrupt routine or where the program reads"
            ),
        ),
    ] = "read"
    watch_field: Annotated[
        str,
        key(
            "a counter field that must change to feed it; empty: any frame feeds it",
            moves=("stream.failsafe.trips_on_fault", "faults.reaction_ms"),
            measure=(
                "see whether the receiver compares a counter; freeze the transmitter's program, "
                "wheels up, with its radio sending on"
            ),
        ),
    ] = ""
    resume_frames: Annotated[
        _Frames,
        key(
            "frames in a row that end failsafe",
            moves=("faults.recovered_ms", "stream.failsafe.seconds_on"),
            measure="look for a count of good frames before outputs come alive again",
        ),
    ] = 1
    resume_needs: Annotated[
        ResumeNeeds | None,
        key(
            "a field that must be near neutral to end failsafe",
            moves=("faults.recovered_ms", "stream.failsafe.seconds_on"),
            measure=(
                "hold the stick off centre, wheels up, while the transmitter is switched on "
                "again: does the output wait?"
            ),
        ),
    ] = None
