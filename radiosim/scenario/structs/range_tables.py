"""The `[air.range]` and `[transmitter.NAME.place]` tables."""

from typing import Annotated, Literal

from msgspec import Meta

from radiosim.described import key
from radiosim.number_kinds import Metres, TimeS
from radiosim.scenario.structs.shared_keys import Table

Height = Annotated[float, Meta(ge=0.001, le=10_000)]
Gain = Annotated[float, Meta(ge=-60, le=30)]
_Between = Annotated[float, Meta(ge=0.000_001, le=0.999_999)]


class Anchor(Table, frozen=True, kw_only=True):
    """One measured point, which shifts the whole curve: modules differ from their data sheets."""

    distance_m: Annotated[
        Metres,
        key(
            "how far away it was measured",
            "m",
            moves=("stream.lost_range",),
            measure="pace it out, with antennas and bodies as they will be",
        ),
    ]
    delivery: Annotated[
        _Between,
        key(
            "share of the frames that arrived there, without retries",
            moves=("stream.lost_range",),
            measure=(
                "retries 0, a counter in the frame: share of the numbers that arrive; best "
                "where it is 0.5 to 0.95"
            ),
        ),
    ]
    transmitter: Annotated[
        str | None,
        key(
            "which transmitter sent; left out: the first of the file",
            moves=("stream.lost_range",),
            measure="the one that you carried",
        ),
    ] = None


Track = Annotated[tuple[tuple[TimeS, Metres], ...], Meta(min_length=1)]
"""Points (seconds, metres)."""


class Place(Table, frozen=True, kw_only=True):
    """Where one transmitter stands, if not where `air.range` says (rule C3)."""

    distance_m: Annotated[
        Metres | None,
        key(
            "from it to the receiver",
            "m",
            moves=("stream.lost_range", "stream.gap_ms"),
            measure="pace it out",
        ),
    ] = None
    track: Annotated[
        Track | None,
        key(
            "how that distance goes: [[seconds, metres], ...], straight in between",
            "s, m",
            moves=("stream.lost_range", "stream.gap_ms"),
            measure="the drive that you mean to make, from a map",
        ),
    ] = None
    track_file: Annotated[
        str | None,
        key(
            "the same from a table with columns t_s and distance_m, in the scenario's folder",
            moves=("stream.lost_range", "stream.gap_ms"),
            measure="log the position while driving",
        ),
    ] = None
    height_m: Annotated[
        Height | None,
        key(
            "height of its antenna above the ground",
            "m",
            moves=("stream.lost_range",),
            measure="measure it as it is held or worn",
        ),
    ] = None
    gain_dbi: Annotated[
        Gain | None,
        key(
            "gain of its antenna",
            "dBi",
            moves=("stream.lost_range",),
            measure="the data sheet of the module or of the antenna; a body in the way takes 10 dB",
        ),
    ] = None


class Range(Table, frozen=True, kw_only=True):
    """Loss that follows from distance (rule C3)."""

    distance_m: Annotated[
        Metres | None,
        key(
            "from the transmitters to the receiver",
            "m",
            moves=("stream.lost_range", "stream.gap_ms"),
            measure="pace it out",
        ),
    ] = None
    track: Annotated[
        Track | None,
        key(
            "how that distance goes: [[seconds, metres], ...], straight in between",
            "s, m",
            moves=("stream.lost_range", "stream.gap_ms"),
            measure="the drive that you mean to make, from a map",
        ),
    ] = None
    track_file: Annotated[
        str | None,
        key(
            "the same from a table with columns t_s and distance_m, in the scenario's folder",
            moves=("stream.lost_range", "stream.gap_ms"),
            measure="log the position while driving",
        ),
    ] = None
    path: Annotated[
        Literal["free-space", "two-ray", "log-distance"],
        key(
            "how the level falls with distance",
            moves=("stream.lost_range",),
            measure=(
                "open ground with low antennas is two-ray, free air free-space, houses and "
                "woods log-distance"
            ),
        ),
    ] = "two-ray"
    exponent: Annotated[
        Annotated[float, Meta(ge=1, le=8)],
        key(
            "with log-distance: 10 times this in dB for ten times the distance",
            moves=("stream.lost_range",),
            measure=(
                "levels at two distances; 2 in the open, 2.7 to 3.5 among houses, 4 to 6 through "
                "walls (common practice, no source)"
            ),
        ),
    ] = 3.0
    shadowing_db: Annotated[
        Annotated[float, Meta(ge=0, le=20)] | None,
        key(
            "spread of the level by what stands in the way; left out: 6 with log-distance, else 0",
            "dB",
            moves=("stream.lost_range", "stream.gap_ms"),
            measure="levels at twenty places of one distance: their standard deviation",
        ),
    ] = None
    shadowing_m: Annotated[
        Metres,
        key(
            "way on which that changes",
            "m",
            moves=("stream.gap_ms",),
            measure="the size of what stands in the way",
        ),
    ] = 5.0
    fading: Annotated[
        Literal["none", "rayleigh", "rician"],
        key(
            "how the level varies around that",
            moves=("stream.lost_range", "stream.gap_ms"),
            measure="in sight of each other rician, out of sight rayleigh",
        ),
    ] = "none"
    rician_k_db: Annotated[
        Annotated[float, Meta(ge=-20, le=40)],
        key(
            "with rician: how much stronger the direct wave is than all others",
            "dB",
            moves=("stream.lost_range", "stream.gap_ms"),
            measure="in the open 6 to 12, among things 0 to 6 (common practice, no source)",
        ),
    ] = 6.0
    speed_m_s: Annotated[
        Annotated[float, Meta(ge=0.001, le=300)],
        key(
            "how fast the vehicle moves: how fast the level varies",
            "m/s",
            moves=("stream.gap_ms",),
            measure="time it over ten metres; a slow one stays in a fade for longer",
        ),
    ] = 1.0
    transmitter_height_m: Annotated[
        Height,
        key(
            "height of the transmitters' antennas above the ground",
            "m",
            moves=("stream.lost_range",),
            measure="measure it as it is held or worn",
        ),
    ] = 1.2
    receiver_height_m: Annotated[
        Height,
        key(
            "height of the receiver's antenna above the ground",
            "m",
            moves=("stream.lost_range",),
            measure="measure it on the vehicle, on its wheels",
        ),
    ] = 0.1
    transmitter_gain_dbi: Annotated[
        Gain,
        key(
            "gain of the transmitters' antennas",
            "dBi",
            moves=("stream.lost_range",),
            measure="the data sheet of the module or of the antenna; a body in the way takes 10 dB",
        ),
    ] = 0.0
    receiver_gain_dbi: Annotated[
        Gain,
        key(
            "gain of the receiver's antenna",
            "dBi",
            moves=("stream.lost_range",),
            measure="the data sheet of the module or of the antenna; metal beside it takes dB",
        ),
    ] = 0.0
    anchor: Annotated[
        Anchor | None,
        key(
            "one measured point, which shifts the whole curve",
            moves=("stream.lost_range",),
            measure="see its keys",
        ),
    ] = None
