"""`radiosim range` as a report: what arrives at which distance, and how far requirements hold."""

from collections.abc import Iterator
from typing import Any

from radiosim.counted import counted
from radiosim.report.figures.reach import figure
from radiosim.results.document import Column, Origin, Report, Section, Table
from radiosim.results.formats import duration_text, fmt_range
from radiosim.safety import STILL
from radiosim.scenario import Scenario
from radiosim.study.level_samples import FINEST_DB, UNKNOWN_DB
from radiosim.study.range import LEAST, Band, Limit, Point, Reach, rounded_m, rounded_up_m

NO_BREAK = "\N{NO-BREAK SPACE}"
CAUTION = f"Walk the distance with {STILL}, and try the failsafe at its end."
BANDS = (
    f"Each figure: the least and the most of it from {UNKNOWN_DB:g} dB less to {UNKNOWN_DB:g} dB "
    f"more than described, simulated in steps down to {FINEST_DB:g} dB where it changes. What "
    "antennas, bodies and bushes do, nobody knows beforehand. A measured point (air.range.anchor) "
    "narrows that."
)
NOTE = (
    "Margin: level above the rated sensitivity, as described, without fading; at the last "
    "distance that has it. "
    f"Where fewer than {100 * LEAST:g} % of a stream are read, no requirement counts as held; "
    "a failsafe that is never left does not trip."
)


def range_report(found: Reach, scenario: Scenario, origin: Origin) -> Report:
    """How far each stream reaches, 6 dB either way."""
    duration = duration_text(1000 * found.starts * found.duration_s)
    picture = figure(found)
    return Report(
        title=scenario.title or found.scenario or "A scenario without a title",
        subject="How far a simulated radio control link reaches",
        done=f"{counted(found.starts, 'start')}, {duration} at each distance",
        verdict=_verdict(found.limits),
        # Whether a distance is far enough is the reader's to say.
        is_well=None,
        sections=(
            *_limits(found.limits),
            Section(
                heading=picture.title,
                sentences=tuple(f"{note[0].upper()}{note[1:]}." for note in found.notes if note),
                figures=(picture,),
            ),
            Section(
                heading="What arrives at which distance",
                sentences=(BANDS,),
                tables=(_table(found),),
            ),
        ),
        cautions=(CAUTION,),
        data=found,
        origin=origin,
    )


def _verdict(limits: tuple[Limit, ...]) -> str:
    if not limits:
        return (
            "The scenario asks for nothing that can be judged here: the table shows what arrives, "
            "and how long the gaps are."
        )
    first = min(limits, key=lambda limit: (limit.is_open[0], limit.distance_m))
    metres = rounded_m(first.distance_m[0])
    if metres == 0:
        return "Not every requirement is sure to hold, even at the nearest distance."
    unjudged = sum(1 for limit in limits if limit.unjudged)
    told = (
        f"{unjudged} of {counted(len(limits), 'requirement')} cannot be judged; none surely fails"
        if unjudged
        else "Every requirement holds"
    )
    if first.is_open[0]:
        return f"{told} as far as was looked, about {metres:g} m{_spots(limits)}."
    return f"{told} up to about {metres:g} m, in the worse case{_spots(limits)}."


def _spots(limits: tuple[Limit, ...]) -> str:
    nearest = min((limit.spots_from_m for limit in limits if limit.spots_from_m), default=None)
    return "" if nearest is None else f", but for spots {spots_text(nearest)}"


def _limits(limits: tuple[Limit, ...]) -> Iterator[Section]:
    if limits:
        yield Section(
            heading="How far the requirements hold",
            tables=(
                Table(
                    key="limits",
                    columns=(
                        Column(key="requirement", is_text=True),
                        Column(key="from_m", where="data"),
                        Column(key="to_m", where="data"),
                        Column(key="holds", is_text=True, show=limit_text, where="screen"),
                    ),
                    rows=tuple((limit.requirement, *limit.distance_m, limit) for limit in limits),
                ),
            ),
        )


def limit_text(limit: Limit) -> str:
    """Where a requirement stops holding, never to the metre."""
    # Outwards, so that it is true of what was seen.
    low = f"{rounded_m(limit.distance_m[0]):g}{NO_BREAK}m"
    high = f"{rounded_up_m(limit.distance_m[1]):g}{NO_BREAK}m"
    spots = (
        "" if limit.spots_from_m is None else f"; fails at spots {spots_text(limit.spots_from_m)}"
    )
    if limit.unjudged:
        reach = "as far as was looked" if limit.is_open[0] else "in the worse case"
        return f"not judged, surely fails nowhere up to {low} {reach}: {limit.unjudged}"
    if limit.is_open[0]:
        return f"holds as far as was looked, {low}{spots}"
    if limit.is_open[1]:
        return f"stops holding between {low} and far beyond {high}{spots}"
    if limit.distance_m[1] == 0:
        return "does not hold at any distance that was looked at"
    return f"stops holding somewhere from {low} to {high}{spots}"


def spots_text(from_m: float) -> str:
    """Where two rays cancel."""
    return f"from {rounded_m(from_m):g}{NO_BREAK}m on where two rays cancel"


def _table(found: Reach) -> Table:
    return Table(
        key="range",
        columns=(
            Column(key="stream", is_text=True),
            Column(key="distance_m", title="at", unit="m", show=_two_digits),
            Column(key="margin_db", title="margin", unit="dB", show=_whole, priority=3),
            *_columns("delivery_ratio", "read", "%", _percent),
            *_columns("update_rate_hz", "update rate", "/s", priority=2),
            *_columns("longest_gap_ms", "longest gap", show=_gap),
            *_columns("nuisance_per_hour", "nuisance trips", "/h", priority=1),
        ),
        rows=tuple(
            _row(stream, point) for stream, points in found.streams.items() for point in points
        ),
        group_by="stream",
        note=NOTE,
    )


def _columns(
    key: str, title: str, unit: str = "", show: Any = fmt_range, priority: int = 0
) -> Iterator[Column]:
    """The ends of a band as screens show them, and its three numbers as files hold them."""
    yield Column(key=key, title=title, unit=unit, show=show, priority=priority, where="screen")
    for end in Band.__struct_fields__:
        yield Column(key=f"{key}.{end}", where="data")


def _row(stream: str, point: Point) -> tuple[Any, ...]:
    bands = (
        point.delivery_ratio,
        point.update_rate_hz,
        point.longest_gap_ms,
        point.nuisance_per_hour,
    )
    cells = (
        value for band in bands for value in (_ends(band), band.least, band.nominal, band.most)
    )
    return (stream, point.distance_m, point.margin_db, *cells)


def _ends(band: Band) -> tuple[float, float] | None:
    return None if band.least is None or band.most is None else (band.least, band.most)


def _whole(margin_db: float) -> str:
    return f"{round(margin_db)}"


def _two_digits(metres: float) -> str:
    return f"{float(f'{metres:.2g}'):g}"


def _percent(ends: tuple[float, float]) -> str:
    return fmt_range(ends, show=lambda share: f"{100 * share:.3g}")


def _gap(ends: tuple[float, float]) -> str:
    return fmt_range(ends, show=duration_text)
