"""Keys that transmitters and the receiver share: each a board with a radio on its bus."""

from typing import Annotated

from msgspec import Meta

from radiosim.described import key
from radiosim.scenario.structs.amounts import Milliamperes, NotNegative, SpiHz

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
WatchdogMs = Annotated[
    NotNegative,
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
    NotNegative,
    key(
        "how often it looks whether the radio lost its settings; 0: never",
        "ms",
        moves=("faults.recovered_ms",),
        measure=(
            "look for a read-back of the radio's registers in the loop; pull the "
            "radio's supply for a moment and time the recovery"
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
