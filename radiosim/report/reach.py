"""`radiosim range`: how far each stream reaches, as bands."""

from collections.abc import Iterator
from typing import Any

from rich.console import Console, RenderableType
from rich.text import Text

from radiosim.counted import counted
from radiosim.report.as_csv import csv_text
from radiosim.report.flat import flat
from radiosim.report.terminal.parts import Trimmed, block, hanging, table
from radiosim.report.terminal.words import digits, printable, span
from radiosim.study.range import LEAST, UNKNOWN_DB, Band, Limit, Point, Reach, rounded_m

CAUTION = (
    "Bands are for 6 dB less and 6 dB more than described: what antennas, bodies and bushes do, "
    "nobody knows beforehand. A measured point (air.range.anchor) narrows them. A simulation is "
    "not proof: walk the distance with the wheels off the ground and propellers off, try the "
    "failsafe at its end, and check your local radio rules."
)

TABLE_COLUMNS = (
    "m",
    "margin\ndB",
    "read\n%",
    "fresh values\na second",
    "longest\nwait ms",
    "nuisance trips\nan hour",
)
FOOT = (
    "Margin: level above the rated sensitivity, as described, without fading.",
    f"Where fewer than {100 * LEAST:g} % of a stream are read, no requirement counts as held; "
    "a failsafe that is never left does not trip.",
)


def print_reach(found: Reach, console: Console) -> None:
    """Print it, 80 columns wide; the limits first."""
    seconds = span(found.starts * found.duration_s)
    head = (
        f"{printable(found.scenario)}: {counted(found.starts, 'start')}, {seconds} at each distance"
    )
    console.print(Text(head, style="bold"))
    console.print()
    if found.limits:
        rows = [(printable(it.requirement), limit_text(it)) for it in found.limits]
        console.print(Trimmed(part=block("How far the requirements hold", hanging(rows))))
    for name, points in found.streams.items():
        console.print(
            Trimmed(
                part=block(
                    f"{name}, with {UNKNOWN_DB:g} dB less to {UNKNOWN_DB:g} dB more", _table(points)
                )
            )
        )
    for part in _foot(found):
        console.print(Trimmed(part=part))


def limit_text(limit: Limit) -> str:
    """Where a requirement stops holding, never to the metre."""
    low, high = (rounded_m(metres) for metres in limit.distance_m)
    if limit.is_open[0]:
        return f"holds as far as was looked, {low:g} m"
    if limit.is_open[1]:
        return f"stops holding between {low:g} m and far beyond {high:g} m"
    if high == 0:
        return "does not hold at any distance that was looked at"
    return f"stops holding somewhere from {low:g} to {high:g} m"


def _table(points: tuple[Point, ...]) -> RenderableType:
    return table(TABLE_COLUMNS, [table_row(point) for point in points])


def table_row(point: Point) -> tuple[str, ...]:
    """What a point has under each of the columns."""
    return (
        f"{float(f'{point.distance_m:.2g}'):g}",
        f"{point.margin_db:.0f}",
        _share(point.delivery_ratio),
        _band(point.update_rate_hz),
        _band(point.longest_gap_ms),
        _band(point.nuisance_per_hour),
    )


def _share(band: Band) -> str:
    ends = [None if v is None else 100 * v for v in (band.low, band.high)]
    if None in ends:
        return "-"
    low, high = (f"{end:.3g}" for end in ends)
    return low if low == high else f"{low} to {high}"


def _band(band: Band) -> str:
    if band.low is None or band.high is None:
        return "-"
    low, high = digits(band.low), digits(band.high)
    return low if low == high else f"{low} to {high}"


def _foot(found: Reach) -> Iterator[RenderableType]:
    yield from map(Text, FOOT)
    for note in found.notes:
        yield Text(printable(note))
    yield Text(CAUTION)


def reach_json(found: Reach) -> dict[str, Any]:
    """Everything, as JSON can have it."""
    return {
        "scenario": found.scenario,
        "starts": found.starts,
        "duration_s": found.duration_s,
        "unknown_db": UNKNOWN_DB,
        "stream": {
            name: [_point_json(point) for point in points] for name, points in found.streams.items()
        },
        "limits": [
            {
                "requirement": limit.requirement,
                "distance_m": [rounded_m(metres) for metres in limit.distance_m],
                "beyond": list(limit.is_open),
            }
            for limit in found.limits
        ],
        "notes": list(found.notes),
    }


def _point_json(point: Point) -> dict[str, Any]:
    row: dict[str, Any] = {"distance_m": point.distance_m, "margin_db": point.margin_db}
    for name in ("delivery_ratio", "update_rate_hz", "gap_ms.max", "nuisance_per_hour"):
        band: Band = getattr(point, name)
        row |= {name: band.nominal, f"{name}_band": [band.low, band.high]}
    return row


def reach_csv(found: Reach) -> dict[str, str]:
    """File name → text: one row a stream and distance, and the limits."""
    rows = [
        {"stream": name, **flat(point)}
        for name, points in found.streams.items()
        for point in points
    ]
    limits = [
        {
            "requirement": limit.requirement,
            "from_m": rounded_m(limit.distance_m[0]),
            "to_m": rounded_m(limit.distance_m[1]),
        }
        for limit in found.limits
    ]
    return {
        "range.csv": csv_text(("stream", "distance_m"), rows),
        "limits.csv": csv_text(("requirement", "from_m", "to_m"), limits),
    }
