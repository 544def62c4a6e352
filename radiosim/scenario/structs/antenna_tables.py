"""The `[transmitter.NAME.antenna]` and `[receiver.antenna]` tables."""

from typing import Annotated, Literal

from msgspec import Meta

from radiosim.described import key
from radiosim.number_kinds import Degrees, TimeS
from radiosim.scenario.structs.shared_keys import Table

MOST_ANGLES = 72
"""Angles of a pattern: every 5 degrees."""
_MOVES = ("stream.lost_range", "stream.gap_ms", "stream.failsafe.nuisance_trips")
_Rate = Annotated[float, Meta(ge=-3_600, le=3_600)]
_Scale = Annotated[float, Meta(ge=-360, le=360)]
_Angle = Annotated[float, Meta(ge=0, lt=360)]
_Gain = Annotated[float, Meta(ge=-60, le=30)]
_Angles = Annotated[tuple[tuple[_Angle, _Gain], ...], Meta(min_length=1, max_length=MOST_ANGLES)]


class Antenna(Table, frozen=True, kw_only=True):
    """An antenna that does not give the same all round, and how its carrier turns (rule C6)."""

    pattern: Annotated[
        Literal["half_wave_dipole"] | _Angles,
        key(
            "its gain round the level plane: [[degrees clockwise from ahead, dB], ...], straight "
            "in between; half_wave_dipole: lies level, across, 2.15 dBi ahead and behind",
            "deg, dB",
            moves=_MOVES,
            measure=(
                "turn the unit on the spot by 15 degrees a time, some 10 m from the other end, and "
                "note the level, or the share of frames that arrive at low power"
            ),
        ),
    ]
    rotation_deg: Annotated[
        Degrees,
        key(
            "how far it is turned on what carries it, clockwise",
            "deg",
            moves=_MOVES,
            measure="look at it from above, the carrier facing ahead",
        ),
    ] = 0.0
    heading_deg: Annotated[
        Degrees,
        key(
            "which way its carrier faces at first, clockwise from the direction of the other end",
            "deg",
            moves=_MOVES,
            measure="choose it: 0 faces the other end, 180 turns its back on it",
        ),
    ] = 0.0
    turn_deg_s: Annotated[
        _Rate,
        key(
            "how fast its carrier turns from there, clockwise",
            "deg/s",
            moves=_MOVES,
            measure="time one circle: 360 divided by its seconds",
        ),
    ] = 0.0
    heading_track: Annotated[
        Annotated[tuple[tuple[TimeS, Degrees], ...], Meta(min_length=1)] | None,
        key(
            "how that heading goes instead: [[seconds, degrees], ...], straight in between; "
            "from 350 on to 370, not to 10",
            "s, deg",
            moves=_MOVES,
            measure="the drive that you mean to make, from a map",
        ),
    ] = None


class HeldAntenna(Antenna, frozen=True, kw_only=True):
    """The antenna of a unit that is held or worn: its heading may be that of a field."""

    heading_field: Annotated[
        str | None,
        key(
            "field of its frames whose signal is that heading instead, such as the yaw of a head",
            moves=_MOVES,
            measure="the field that the head tracker fills",
        ),
    ] = None
    deg_per_unit: Annotated[
        _Scale,
        key(
            "degrees that 1 of that field stands for; below 0 if it counts anticlockwise",
            "deg",
            moves=_MOVES,
            measure="turn by 90 degrees and print the field before and after",
        ),
    ] = 1.0
