"""The air: distances, tracks, and what else sends."""

from collections.abc import Iterator

from radiosim.scenario.checks.references import unknown
from radiosim.scenario.checks.view import Found, View
from radiosim.scenario.paths import Path
from radiosim.scenario.structs.range import Place, Range
from radiosim.scenario.structs.scenario import SceneFile

MOST_POINTS = 250
"""Points of a track."""
MOST_INTERFERERS = 8


def problems(view: View) -> Iterator[Found]:
    """Tracks that go back in time, distances that are missing, interferers beyond number."""
    file = view.file
    yield from _of_range(file)
    for name, unit in file.transmitter.items():
        if unit.place is not None:
            path = ("transmitter", name, "place")
            if file.air.range is None:
                yield path, "must stand beside air.range, which says how the level falls"
            yield from _of_distance(path, unit.place)
    if len(file.interferer) > MOST_INTERFERERS:
        yield (
            ("interferer",),
            f"must be at most {MOST_INTERFERERS} interferers, got {len(file.interferer)}",
        )


def _of_range(file: SceneFile) -> Iterator[Found]:
    place = file.air.range
    if place is None:
        return
    path = ("air", "range")
    yield from _of_distance(path, place)
    if all(one is None for one in (place.distance_m, place.track, place.track_file)):
        without = [
            name
            for name, unit in file.transmitter.items()
            if unit.place is None or not _has_distance(unit.place)
        ]
        if without:
            yield (
                (*path, "distance_m"),
                f"must be given (a number > 0), or a track, for transmitter.{without[0]}",
            )
    if place.anchor is not None and place.anchor.transmitter is not None:
        where = (*path, "anchor", "transmitter")
        yield from unknown(
            where, "a transmitter", place.anchor.transmitter, tuple(file.transmitter)
        )


def _has_distance(place: Place) -> bool:
    return not (place.distance_m is None and place.track is None and place.track_file is None)


def _of_distance(path: Path, place: Place | Range) -> Iterator[Found]:
    given = [key for key in ("distance_m", "track") if getattr(place, key) is not None]
    if len(given) > 1:
        yield (*path, "track"), "must be left out beside distance_m"
    track = place.track
    if track is None:
        return
    where = (*path, "track_file" if place.track_file is not None else "track")
    if len(track) > MOST_POINTS:
        yield where, f"must have at most {MOST_POINTS} points, got {len(track)}: thin it out"
    for number, (seconds, metres) in enumerate(track):
        if seconds < 0 or metres <= 0:
            yield where, f"must have times >= 0 and distances > 0, got [{seconds:g}, {metres:g}]"
            return
        if number and seconds <= track[number - 1][0]:
            yield (
                where,
                f"must have times that go up, got {seconds:g} s after {track[number - 1][0]:g}",
            )
            return
