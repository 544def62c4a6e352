"""The `[transmitter.NAME.drift]` and `[receiver.drift]` tables."""

from typing import Annotated

from msgspec import Meta

from radiosim.described import key
from radiosim.number_kinds import LengthS
from radiosim.scenario.structs.shared_keys import Table

_MOVES = ("stream.gap_ms", "stream.lost_collision", "stream.lost_deaf")
_Ppm = Annotated[float, Meta(ge=-1_000, le=1_000)]
_Celsius = Annotated[float, Meta(ge=-60, le=150)]
_Slope = Annotated[float, Meta(ge=-10, le=10)]


class Drift(Table, frozen=True, kw_only=True):
    """How a clock's error moves after it is switched on (rule T7), on top of that error."""

    ppm_per_minute: Annotated[
        _Ppm,
        key(
            "how much more its error becomes each minute; above 0: its periods grow longer",
            "ppm",
            moves=_MOVES,
            measure="note its count against a watch every ten minutes, from cold",
        ),
    ] = 0.0
    for_s: Annotated[
        LengthS | None,
        key(
            "how long that goes on; left out: all the time",
            "s",
            moves=_MOVES,
            measure="the same notes: until the count keeps its rate",
        ),
    ] = None
    settle_ppm: Annotated[
        _Ppm,
        key(
            "how far its error is, when it is switched on, from where it settles",
            "ppm",
            moves=_MOVES,
            measure="the same notes: the rate of the first minutes less that of the last",
        ),
    ] = 0.0
    settle_s: Annotated[
        LengthS,
        key(
            "in what time what is left of that, and of its warming, falls to 37 %",
            "s",
            moves=_MOVES,
            measure="the same notes; a board in a case takes some minutes (common practice, no "
            "source)",
        ),
    ] = 120.0
    from_c: Annotated[
        _Celsius | None,
        key(
            "temperature of its crystal as it is switched on, of an AT cut",
            "°C",
            moves=_MOVES,
            measure="a thermometer on the board before it is switched on",
        ),
    ] = None
    to_c: Annotated[
        _Celsius | None,
        key(
            "temperature of its crystal once it is warm",
            "°C",
            moves=_MOVES,
            measure="a thermometer on the board after half an hour",
        ),
    ] = None
    cut_ppm_per_k: Annotated[
        _Slope,
        key(
            "slope of that crystal's frequency at 25 °C, set by the angle of its cut",
            "ppm",
            moves=_MOVES,
            measure="the curve in the crystal's data sheet; -0.4 to 0 are common (common practice, "
            "no source)",
        ),
    ] = -0.2
