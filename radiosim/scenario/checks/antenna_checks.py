"""Cross-checks of antennas that turn: patterns, headings, and fields that are headings."""

from collections.abc import Iterator

from radiosim.scenario.checks.view import Found, View, unknown
from radiosim.scenario.key_paths import Path
from radiosim.scenario.structs.antenna_tables import Antenna, HeldAntenna
from radiosim.scenario.structs.transmitter_table import TransmitterTable
from radiosim.signals import Counter, Csv, Steps

MOST_HEADINGS = 250
"""Points of a heading."""


def antenna_problems(view: View) -> Iterator[Found]:
    """Patterns that do not go round, headings said twice, fields that are no heading."""
    file = view.file
    antennas: list[tuple[Path, Antenna]] = [
        (("transmitter", name, "antenna"), unit.antenna)
        for name, unit in file.transmitter.items()
        if unit.antenna is not None
    ]
    if file.receiver.antenna is not None:
        antennas.append((("receiver", "antenna"), file.receiver.antenna))
    for path, antenna in antennas:
        if file.air.range is None:
            yield path, "must stand beside air.range, which says how the level falls"
        yield from _of_pattern(path, antenna)
        yield from _of_heading(path, antenna)
    for name, unit in file.transmitter.items():
        if unit.antenna is not None and unit.antenna.heading_field is not None:
            yield from _of_field(view, name, unit, unit.antenna.heading_field)


def _of_pattern(path: Path, antenna: Antenna) -> Iterator[Found]:
    if isinstance(antenna.pattern, str):
        return
    before = -1.0
    for degrees, _ in antenna.pattern:
        if degrees <= before:
            yield (
                (*path, "pattern"),
                f"must have angles that go up, got {degrees:g} after {before:g}",
            )
            return
        before = degrees


def _of_heading(path: Path, antenna: Antenna) -> Iterator[Found]:
    """A heading is said once: by numbers, a track or a field."""
    is_turned = bool(antenna.heading_deg or antenna.turn_deg_s)
    field = antenna.heading_field if isinstance(antenna, HeldAntenna) else None
    track = antenna.heading_track
    if field is not None and (is_turned or track is not None):
        yield (
            (*path, "heading_field"),
            "must be left out beside heading_deg, turn_deg_s or heading_track",
        )
    if track is None:
        return
    where = (*path, "heading_track")
    if is_turned:
        yield where, "must be left out beside heading_deg or turn_deg_s"
    if len(track) > MOST_HEADINGS:
        yield where, f"must have at most {MOST_HEADINGS} points, got {len(track)}: thin it out"
    before_s = -1.0
    for seconds, _ in track:
        if seconds <= before_s:
            yield where, f"must have times that go up, got {seconds:g} after {before_s:g}"
            return
        before_s = seconds


def _of_field(view: View, name: str, unit: TransmitterTable, field: str) -> Iterator[Found]:
    path = ("transmitter", name, "antenna", "heading_field")
    fields = view.fields(name)
    if fields is None:
        return
    yield from unknown(path, f"a field of transmitter.{name}", field, fields)
    signal = unit.signals.get(field)
    if isinstance(signal, Counter):
        yield path, f"must be a field that is no counter: {field} counts frames"
    points: int | None = None
    if isinstance(signal, Csv):
        points = len(signal.points)
    elif isinstance(signal, Steps) and signal.values is not None:
        points = len(signal.values)
    if points is not None and points > MOST_HEADINGS:
        yield (
            path,
            f"must have at most {MOST_HEADINGS} rows or positions, got {points}: thin it out",
        )
