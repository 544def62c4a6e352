"""`layout compare --scenario`: what the new layout does to the link."""

from collections.abc import Iterator
from dataclasses import dataclass

from rich.console import Console, RenderableType
from rich.text import Text

from radiosim.counted import counted
from radiosim.report.terminal.parts import Trimmed, block, hanging, table
from radiosim.report.terminal.words import digits, printable, span
from radiosim.study.layout_change import Change, LayoutChange


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A figure of a stream, and what it is called here."""

    figure: str
    words: str
    times: float = 1.0
    """From the figure's unit to that of the words."""


SHOWN = (
    Shown(figure="duty_cycle", words="ms on the air a second", times=1000.0),
    Shown(figure="lost_collision", words="collisions a start"),
    Shown(figure="delivery_ratio", words="% of samples read", times=100.0),
    Shown(figure="update_rate_hz", words="fresh values a second"),
    Shown(figure="gap_ms.max", words="longest wait, ms"),
    Shown(figure="latency_ms.mean", words="mean delay, ms"),
    Shown(figure="latency_ms.p99", words="delay, 99 of 100, ms"),
    Shown(figure="failsafe.nuisance_per_hour", words="nuisance trips an hour"),
)
_NOTHING = 1e-4
"""Differences below are shown as none."""
NO_SIMULATION = "Not simulated with the new layout"
INTERVAL = "A change is told apart where its 95 % interval, over starts, leaves 0 out."


def print_change(found: LayoutChange, console: Console) -> None:
    """Print what changed, 80 columns wide."""
    seconds = span(found.starts * found.duration_s)
    both = f"{counted(found.starts, 'start')}, {seconds}, both on the same draws"
    title = f"In {printable(found.scenario)}: {both}"
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
    yield hanging(list(change_lines(found)))
    for stream in streams_of(found):
        rows = [
            (shown.words, *change_cells(change, shown.times))
            for shown, change in shown_of(found, stream)
        ]
        yield Text()
        yield table((printable(stream), "old", "new", "difference", "95 %"), rows)
    yield Text(INTERVAL, style="dim")
    bounds = [
        (name, bound_text(it.old_ms), bound_text(it.new_ms)) for name, it in found.bounds.items()
    ]
    yield Text()
    yield table(("on failsafe within, ms", "old", "new"), bounds)


def change_lines(found: LayoutChange) -> Iterator[tuple[str, str]]:
    """Stream and sentence: what changed for it, and what these starts cannot tell apart."""
    for stream in streams_of(found):
        if stream in found.frame_us:
            old_us, new_us = found.frame_us[stream]
            is_same = old_us == new_us
            was = "as before" if is_same else f"was {old_us:g}"
            yield stream, f"a frame is on the air for {new_us:g} us, {was}"
        figures = shown_of(found, stream)
        told = [(shown, change) for shown, change in figures if is_change(change)]
        moved = [
            f"{shown.words}: {_both(change, shown.times)}"
            for shown, change in told
            if _is_seen(change, shown.times)
        ]
        hardly = [shown.words for shown, change in told if not _is_seen(change, shown.times)]
        still = [shown.words for shown, change in figures if not is_change(change)]
        if moved:
            yield stream, f"changed: {'; '.join(moved)}"
        if hardly:
            yield stream, f"changed by less than is shown: {'; '.join(hardly)}"
        if still:
            yield stream, f"no change told apart: {'; '.join(still)}"
    for note in found.notes:
        stream, _, text = note.partition(": ")
        yield printable(stream), printable(text)


def shown_of(found: LayoutChange, stream: str) -> list[tuple[Shown, Change]]:
    """The figures of a stream that are shown; those that not every start has are left out."""
    return [
        (shown, found.change[path])
        for shown in SHOWN
        if (path := f"stream.{stream}.{shown.figure}") in found.change
    ]


def streams_of(found: LayoutChange) -> tuple[str, ...]:
    """Those that changed first, then the others."""
    every = dict.fromkeys(path.split(".")[1] for path in found.change if path.startswith("stream."))
    return tuple(dict.fromkeys((*found.streams, *every)))


def _is_seen(change: Change, times: float) -> bool:
    return digits(change.old * times) != digits(change.new * times)


def _both(change: Change, times: float) -> str:
    return f"{digits(change.old * times)} -> {digits(change.new * times)}"


def change_cells(change: Change, times: float) -> tuple[str, str, str, str]:
    """Before, after, difference and its interval."""
    interval = change.difference_ci95
    width = "" if interval is None else " to ".join(_signed(end * times) for end in interval)
    old, new = digits(change.old * times), digits(change.new * times)
    return old, new, _signed(change.difference * times), width


def _signed(value: float) -> str:
    """A difference, with its sign."""
    if abs(value) < _NOTHING:
        return "0"
    return f"+{digits(value)}" if value > 0 else digits(value)


def bound_text(value: float | None) -> str:
    """A bound in ms, or that there is none."""
    return "no bound" if value is None else digits(value)
