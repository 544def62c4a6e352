"""The `[failsafe.STREAM]` tables."""

from typing import Annotated, Literal

from msgspec import Meta

from radiosim.scenario.structs.amounts import NotNegative, Positive, Table, key

_Frames = Annotated[int, Meta(ge=1, le=1_000_000)]


class ResumeNeeds(Table, frozen=True, kw_only=True):
    """What must hold before outputs come alive again (rule F3)."""

    field: Annotated[str, key("field of the stream that must be near its neutral")]
    within: Annotated[NotNegative, key("how near, in the field's own unit")]


class Failsafe(Table, frozen=True, kw_only=True):
    """The timer of one stream (rules F1 to F3)."""

    timeout_ms: Annotated[Positive, key("silence after which failsafe comes on", "ms")]
    fed_by: Annotated[
        Literal["own", "any"], key("whose frames feed it: this stream's, or any stream's")
    ] = "own"
    fed_at: Annotated[
        Literal["read", "arrival"],
        key("when a frame feeds it: when the program reads it, or when the radio got it"),
    ] = "read"
    watch_field: Annotated[
        str, key("a counter field that must change to feed it; empty: any frame feeds it")
    ] = ""
    resume_frames: Annotated[_Frames, key("frames in a row that end failsafe")] = 1
    resume_needs: Annotated[
        ResumeNeeds | None, key("a field that must be near neutral to end failsafe")
    ] = None
