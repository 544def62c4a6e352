"""What transmitters and the receiver have in common: a board with a radio on its bus."""

from typing import Annotated

from radiosim.described import key
from radiosim.scenario.structs.amounts import NotNegative, SpiHz, Table


class Unit(Table, frozen=True, kw_only=True):
    """Keys of every unit."""

    spi_hz: Annotated[
        SpiHz,
        key(
            "clock of the bus to its radio",
            "Hz",
            moves=("stream.latency_ms",),
            measure=(
                "read the bus settings of the sketch; time one bit of the clock line with a"
                " logic analyser"
            ),
        ),
    ] = 8_000_000.0
    watchdog_ms: Annotated[
        NotNegative,
        key(
            "a hung program is reset after this time; 0: never",
            "ms",
            moves=("faults.recovered_ms", "faults.detected_ms"),
            measure=(
                "read the watchdog set-up of the sketch; put an endless loop behind a "
                "button and time the reset"
            ),
        ),
    ] = 0.0
    recheck_ms: Annotated[
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
    ] = 0.0
