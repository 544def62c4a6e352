"""`layout compare --scene`: what the new layout does to the link."""

from collections.abc import Iterator

from rich.console import Console, RenderableType
from rich.text import Text

from radiosim.report.terminal.parts import Trimmed, block, hanging, table
from radiosim.report.terminal.words import digits, printable, span
from radiosim.study.layout_change import Change, LayoutChange

SHOWN = (
    ("air_time_share", "share of the time on the air"),
    ("lost_collision", "attempts lost to collisions, a start"),
    ("delivery_ratio", "share of samples that are read"),
    ("update_rate_hz", "fresh values a second"),
    ("hole_ms", "longest wait for a value, ms"),
    ("latency_ms.mean", "delay of a value, mean, ms"),
    ("latency_ms.p99", "delay of a value, 99 of 100, ms"),
    ("failsafe.nuisance_per_hour", "nuisance trips an hour"),
)
"""Figures of a stream, and what they are called here."""
NO_SIMULATION = "Not simulated with the new layout"


def print_change(found: LayoutChange, console: Console) -> None:
    """Print what changed, 80 columns wide."""
    seconds = span(found.starts * found.duration_s)
    title = f"In {printable(found.scene)}: {found.starts} starts, {seconds}, both on the same draws"
    console.print(Trimmed(part=block(title, *_parts(found))))


def print_refusal(text: str, console: Console) -> None:
    """Print why the link cannot be simulated with the new layout."""
    lines = [Text(printable(line)) for line in text.splitlines()]
    console.print(Trimmed(part=block(NO_SIMULATION, *lines)))


def is_change(change: Change) -> bool:
    """Whether starts tell the two apart: 0 lies outside the interval, or all are alike."""
    interval = change.difference_ci95
    if interval is None or interval[0] == interval[1]:
        return change.difference != 0
    return not interval[0] <= 0 <= interval[1]


def _parts(found: LayoutChange) -> Iterator[RenderableType]:
    yield hanging([(f"  {line}",) for line in _words(found)])
    rows = [
        (f"{stream}: {words}", *_cells(change))
        for stream in _streams(found)
        for figure, words in SHOWN
        if (change := found.change.get(f"stream.{stream}.{figure}")) is not None
    ]
    yield Text()
    yield table(("", "old", "new", "difference", "95 %"), rows)
    bounds = [
        (f"failsafe of {name} in effect within, ms", _bound(it.old_ms), _bound(it.new_ms))
        for name, it in found.bounds.items()
    ]
    yield Text()
    yield table(("", "old", "new"), bounds)


def _words(found: LayoutChange) -> Iterator[str]:
    for stream, (old_us, new_us) in found.frame_us.items():
        if old_us == new_us:
            yield f"{stream}: a frame is on the air for {old_us:g} us as before"
        else:
            yield f"{stream}: a frame is on the air for {new_us:g} us, was {old_us:g}"
    for stream in _streams(found):
        moved = [
            words
            for figure, words in SHOWN[1:]
            if (change := found.change.get(f"stream.{stream}.{figure}")) and is_change(change)
        ]
        said = "; ".join(moved) if moved else "nothing that these starts can tell"
        yield f"{stream}: changed: {said}"
    for note in found.notes:
        yield printable(note)


def _streams(found: LayoutChange) -> tuple[str, ...]:
    """Those that changed first, then the others."""
    every = dict.fromkeys(path.split(".")[1] for path in found.change if path.startswith("stream."))
    return tuple(dict.fromkeys((*found.streams, *every)))


def _cells(change: Change) -> tuple[str, str, str, str]:
    interval = change.difference_ci95
    width = "" if interval is None else f"{digits(interval[0])} to {digits(interval[1])}"
    return digits(change.old), digits(change.new), digits(change.difference), width


def _bound(value: float | None) -> str:
    return "no bound" if value is None else digits(value)
