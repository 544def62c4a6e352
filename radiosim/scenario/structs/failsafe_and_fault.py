"""The `[failsafe.STREAM]`, `[[fault]]` and `[[requirement]]` tables."""

from typing import TYPE_CHECKING, Annotated, Literal

from msgspec import Meta

from radiosim.described import key
from radiosim.number_kinds import LengthS, Swing, TimeoutMs, TimeS, Value
from radiosim.registers.fault_register import FAULT_KINDS
from radiosim.scenario.structs.shared_keys import Table

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
        Swing,
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
        TimeoutMs,
        key(
            "silence after which failsafe comes on",
            "ms",
            moves=(
                "stream.failsafe.nuisance_trips",
                "stream.failsafe.trips_on_fault",
                "reaction.bound_ms",
                "faults.reaction_ms",
            ),
            measure=(
                "the figure in the receiver's firmware; on the bench, wheels up, propellers off, "
                "switch the "
                "transmitter off and time until the output stops"
            ),
        ),
    ]
    fed_by: Annotated[
        Literal["own", "any"],
        key(
            "whose frames feed it: this stream's, or any stream's",
            moves=("stream.failsafe.trips_on_fault", "faults.reaction_ms", "reaction.bound_ms"),
            measure=(
                "see whether the time of the last frame is noted for each transmitter or once "
                "for all; switch one transmitter off, wheels up, propellers off, while the other "
                "sends"
            ),
        ),
    ] = "own"
    fed_at: Annotated[
        Literal["read", "arrival"],
        key(
            "when a frame feeds it: when the program reads it, or when the radio got it",
            moves=("stream.failsafe.nuisance_trips", "faults.reaction_ms", "reaction.bound_ms"),
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
                "wheels up, propellers off, with its radio sending on"
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
                "hold the stick off centre, wheels up, propellers off, while the transmitter is "
                "switched on "
                "again: does the output wait?"
            ),
        ),
    ] = None


if TYPE_CHECKING:
    KindName = str
else:
    # The words that a file may say follow from the register.
    KindName = Literal[tuple(FAULT_KINDS)]


class Fault(Table, frozen=True, kw_only=True):
    """Something that goes wrong at an instant (rule E3)."""

    at_s: Annotated[
        TimeS,
        key(
            "when, from the start",
            "s",
            moves=("faults.reaction_ms", "faults.recovered_ms"),
            measure=(
                "choose it: late enough that the link runs, early enough that the start "
                "goes on after it"
            ),
        ),
    ]
    kind: Annotated[
        KindName,
        key(
            "what happens",
            moves=(
                "faults.reaction_ms",
                "faults.recovered_ms",
                "stream.failsafe.trips_on_fault",
                "stream.gap_ms",
            ),
            measure="choose it: what you fear; then do it on the bench, wheels up, propellers off",
        ),
    ]
    unit: Annotated[
        str,
        key(
            "to whom: a transmitter's name, receiver or air",
            moves=("faults.reaction_ms", "faults.recovered_ms"),
            measure="choose it: each unit in turn",
        ),
    ]
    for_s: Annotated[
        LengthS | None,
        key(
            "how long it lasts; left out: for good",
            "s",
            moves=("faults.recovered_ms", "stream.gap_ms", "stream.failsafe.seconds_on"),
            measure=("choose it: longer than the failsafe timeout, so that it must be noticed"),
        ),
    ] = None


class Requirement(Table, frozen=True, kw_only=True):
    """A figure of the results and its limit; exactly one of the two limits."""

    figure: Annotated[
        str,
        key(
            "a path into the results, such as stream.drive.gap_ms.max",
            moves=(),
            measure="choose it: radiosim glossary lists the figures",
        ),
    ]
    at_least: Annotated[
        Value | None,
        key(
            "the figure must not be below this",
            moves=(),
            measure="choose it: what the vehicle needs, before you look at the result",
        ),
    ] = None
    at_most: Annotated[
        Value | None,
        key(
            "the figure must not be above this",
            moves=(),
            measure="choose it: what the vehicle can bear, before you look at the result",
        ),
    ] = None
