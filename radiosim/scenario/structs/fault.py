"""The `[[fault]]` tables."""

from typing import Annotated, Literal

from radiosim.scenario.structs.amounts import NotNegative, Positive, Table, key

FaultKind = Literal[
    "power_off",
    "power_on",
    "reset",
    "brownout",
    "radio_reset",
    "hang",
    "frozen",
    "jam",
    "out_of_range",
]

INSTANT_KINDS = ("power_on", "reset", "radio_reset")
"""Over as soon as they happen; what follows is boot or recheck."""
WITHOUT_PULSES = ("power_off", "brownout", "reset")
"""While they last, a receiver's pins float."""


class Fault(Table, frozen=True, kw_only=True):
    """Something that goes wrong at an instant (rule E3)."""

    at_s: Annotated[NotNegative, key("when, from the start", "s")]
    kind: Annotated[FaultKind, key("what happens")]
    unit: Annotated[str, key("to whom: a transmitter's name, receiver or air")]
    for_s: Annotated[Positive | None, key("how long it lasts; left out: for good", "s")] = None
