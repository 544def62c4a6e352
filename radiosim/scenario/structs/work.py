"""What takes a program's time now and then."""

from typing import Annotated

from radiosim.scenario.structs.amounts import Drawn, NotNegative, Positive, Table, key


class Work(Table, frozen=True, kw_only=True):
    """Work that blocks a program's loop now and then (rule A4)."""

    every_ms: Annotated[Positive, key("how often it is due", "ms")]
    takes_ms: Annotated[Positive, key("how long the loop stands still for it", "ms")]
    interrupts_off: Annotated[bool, key("whether it also holds interrupts off")] = False
    offset_ms: Annotated[
        Drawn | NotNegative, key("when it is first due after boot; drawn: anew each start", "ms")
    ] = "drawn"


class Deaf(Table, frozen=True, kw_only=True):
    """Spans in which the receiver stops listening, for instance to send (rule D1)."""

    every_ms: Annotated[Positive, key("how often it stops listening", "ms")]
    for_ms: Annotated[Positive, key("for how long", "ms")]
    offset_ms: Annotated[
        Drawn | NotNegative, key("when it first does after boot; drawn: anew each start", "ms")
    ] = "drawn"
