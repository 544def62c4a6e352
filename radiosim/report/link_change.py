"""What another layout does to a link, as sections of a report."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from radiosim.counted import counted
from radiosim.results.document import Column, Figure, Section, Sentence, Table
from radiosim.results.formats import duration_text, fmt_percent, fmt_sig3
from radiosim.study.layout_change import Change, LayoutChange

INTERVAL = (
    "A change stands apart where its 95 % interval, over starts, leaves 0 out. Differences of "
    "shares are in percentage points."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A figure of a stream, what it is called here, and how it is written."""

    figure: str
    words: str
    show: Callable[[float], str]


def _a_second(value: float) -> str:
    return f"{fmt_sig3(value)} /s"


def _an_hour(value: float) -> str:
    return f"{fmt_sig3(value)} /h"


SHOWN = (
    Shown(figure="duty_cycle", words="duty cycle", show=fmt_percent),
    Shown(figure="lost_collision", words="collisions a start", show=fmt_sig3),
    Shown(figure="delivery_ratio", words="samples read", show=fmt_percent),
    Shown(figure="update_rate_hz", words="update rate", show=_a_second),
    Shown(figure="gap_ms.max", words="longest gap", show=duration_text),
    Shown(figure="latency_ms.mean", words="mean latency", show=duration_text),
    Shown(figure="latency_ms.p99", words="p99 latency", show=duration_text),
    Shown(figure="failsafe.nuisance_per_hour", words="nuisance trips", show=_an_hour),
)


def link_sections(
    found: LayoutChange | None, not_simulated: str, picture: Figure | None
) -> Iterator[Section]:
    """What changed in the link, or why it cannot be simulated with the new layout."""
    if not_simulated:
        yield Section(
            heading="Not simulated with the new layout",
            sentences=tuple(not_simulated.splitlines()),
        )
    if found is None:
        return
    length = duration_text(1000 * found.starts * found.duration_s)
    both = (
        f"In {found.scenario}: {counted(found.starts, 'start')}, {length}, both on the same draws."
    )
    yield Section(
        heading="What the new layout changes in the link" if picture is None else picture.title,
        sentences=(both, *(Sentence(lead=of, text=text) for of, text in change_lines(found))),
        figures=() if picture is None else (picture,),
        tables=(_stream_table(found), *_bounds(found)),
    )


def link_tables(found: LayoutChange | None) -> Iterator[Table]:
    """For files: the change of every figure."""
    if found is not None:
        yield Table(
            key="change",
            columns=tuple(
                Column(key=key)
                for key in (
                    "figure",
                    "old",
                    "new",
                    "difference",
                    "difference_ci95.low",
                    "difference_ci95.high",
                )
            ),
            rows=tuple(
                (
                    path,
                    entry.old,
                    entry.new,
                    entry.difference,
                    *(entry.difference_ci95 or (None, None)),
                )
                for path, entry in found.figures.items()
            ),
            where="data",
        )


def is_change(change: Change) -> bool:
    """Whether starts tell the two apart: 0 lies outside the interval, or all are alike."""
    interval = change.difference_ci95
    if interval is None or interval[0] == interval[1]:
        return change.difference != 0
    return not interval[0] <= 0 <= interval[1]


def change_lines(found: LayoutChange) -> Iterator[tuple[str, str]]:
    """Stream and sentence: what changed for it, and what these starts cannot tell apart."""
    for stream in streams_of(found):
        if stream in found.frame_us:
            frame = found.frame_us[stream]
            was = "as before" if frame.old == frame.new else f"was {frame.old:g}"
            yield stream, f"a frame is on the air for {frame.new:g} us, {was}"
        figures = shown_of(found, stream)
        told = [(shown, change) for shown, change in figures if is_change(change)]
        moved = [
            f"{shown.words} {shown.show(change.old)} -> {shown.show(change.new)}"
            for shown, change in told
            if _is_seen(shown, change)
        ]
        hardly = [shown.words for shown, change in told if not _is_seen(shown, change)]
        still = [shown.words for shown, change in figures if not is_change(change)]
        if moved:
            yield stream, f"changed: {'; '.join(moved)}"
        if hardly:
            yield stream, f"changed by less than is shown: {'; '.join(hardly)}"
        if still:
            yield stream, f"no change told apart: {'; '.join(still)}"
    for note in found.notes:
        stream, _, text = note.partition(": ")
        yield stream, text


def shown_of(found: LayoutChange, stream: str) -> list[tuple[Shown, Change]]:
    """The figures of a stream that are shown; those that not every start has are left out."""
    return [
        (shown, found.figures[path])
        for shown in SHOWN
        if (path := f"stream.{stream}.{shown.figure}") in found.figures
    ]


def streams_of(found: LayoutChange) -> tuple[str, ...]:
    """Those that changed first, then the others."""
    every = dict.fromkeys(
        path.split(".")[1] for path in found.figures if path.startswith("stream.")
    )
    return tuple(dict.fromkeys((*found.streams, *every)))


def _is_seen(shown: Shown, change: Change) -> bool:
    return shown.show(change.old) != shown.show(change.new)


def _stream_table(found: LayoutChange) -> Table:
    rows: list[tuple[Any, ...]] = [
        (
            stream,
            shown.words,
            shown.show(change.old),
            shown.show(change.new),
            signed(shown, change.difference),
            _interval(shown, change),
        )
        for stream in streams_of(found)
        for shown, change in shown_of(found, stream)
    ]
    return Table(
        key="stream_change",
        caption="Mean over starts",
        columns=(
            Column(key="stream", is_text=True),
            Column(key="figure", is_text=True),
            Column(key="old", title="old"),
            Column(key="new", title="new"),
            Column(key="difference", title="difference"),
            Column(key="interval", title="95 % interval", priority=1),
        ),
        rows=tuple(rows),
        group_by="stream",
        where="screen",
        note=INTERVAL,
    )


def _interval(shown: Shown, change: Change) -> str | None:
    interval = change.difference_ci95
    return None if interval is None else " to ".join(signed(shown, end) for end in interval)


def signed(shown: Shown, value: float) -> str:
    """A difference, with its sign."""
    text = shown.show(abs(value))
    if value == 0 or text == shown.show(0.0) or text.startswith("<"):
        return "0"
    return f"{'+' if value > 0 else '-'}{text}"


def _bounds(found: LayoutChange) -> Iterator[Table]:
    if found.bound_ms:
        yield Table(
            key="bound_ms",
            caption="Longest reaction time that can come about",
            columns=(
                Column(key="output", title="output", is_text=True),
                Column(key="old_ms", title="old", show=duration_text, nothing="no bound"),
                Column(key="new_ms", title="new", show=duration_text, nothing="no bound"),
            ),
            rows=tuple(
                (name, entry.old_ms, entry.new_ms) for name, entry in found.bound_ms.items()
            ),
        )
