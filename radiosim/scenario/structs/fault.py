"""The `[[fault]]` tables."""

from typing import Annotated, Literal

from radiosim.described import key
from radiosim.scenario.structs.amounts import NotNegative, Positive, Table

FaultKind = Literal[
    "power_off",
    "power_on",
    "reset",
    "brownout",
    "radio_reset",
    "hang",
    "stale",
    "jam",
    "out_of_range",
]

INSTANT_KINDS = ("power_on", "reset", "radio_reset")
"""Over as soon as they happen; what follows is boot or recheck."""
WITHOUT_PULSES = ("power_off", "brownout", "reset")
"""While they last, a receiver's pins float."""


class Fault(Table, frozen=True, kw_only=True):
    """Something that goes wrong at an instant (rule E3)."""

    at_s: Annotated[
        NotNegative,
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
        FaultKind,
        key(
            "what happens",
            moves=(
                "faults.reaction_ms",
                "faults.recovered_ms",
                "stream.failsafe.trips_on_fault",
                "stream.gap_ms",
            ),
            measure="choose it: what you fear; then do it on the bench, wheels up",
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
        Positive | None,
        key(
            "how long it lasts; left out: for good",
            "s",
            moves=("faults.recovered_ms", "stream.gap_ms", "stream.failsafe.seconds_on"),
            measure=("choose it: longer than the failsafe timeout, so that it must be noticed"),
        ),
    ] = None
