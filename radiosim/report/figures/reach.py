"""Figure: what arrives at which distance, the longest gap and nuisance trips, as bands."""

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec

from radiosim.results.document import Drawing, Figure
from radiosim.results.formats import duration_text, fmt_sig3
from radiosim.study.range import LEAST, UNKNOWN_DB, Band, Limit, Reach, rounded_m

NAME = "range"
LETTERS = "ABCDEFGH"


@dataclass(frozen=True, slots=True, kw_only=True)
class BandOf:
    """One figure over distance: with 6 dB less, as described, with 6 dB more; None: nothing."""

    low: tuple[float | None, ...]
    nominal: tuple[float | None, ...]
    high: tuple[float | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamReach:
    """One stream over distance."""

    name: str
    delivery_ratio: BandOf
    longest_gap_ms: BandOf
    nuisance_per_hour: BandOf
    """Nothing without a failsafe."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachData:
    """All streams, at the same distances."""

    distance_m: tuple[float, ...]
    streams: tuple[StreamReach, ...]
    limits: tuple[Limit, ...]


def reach_data(found: Reach) -> ReachData:
    """The numbers of a range."""
    first = next(iter(found.streams.values()))
    return ReachData(
        distance_m=tuple(point.distance_m for point in first),
        streams=tuple(
            StreamReach(
                name=name,
                delivery_ratio=_bands([point.delivery_ratio for point in points]),
                longest_gap_ms=_bands([point.longest_gap_ms for point in points]),
                nuisance_per_hour=_bands([point.nuisance_per_hour for point in points]),
            )
            for name, points in found.streams.items()
        ),
        limits=found.limits,
    )


def _bands(bands: Sequence[Band]) -> BandOf:
    return BandOf(
        low=tuple(band.low for band in bands),
        nominal=tuple(band.nominal for band in bands),
        high=tuple(band.high for band in bands),
    )


def figure(found: Reach) -> Figure:
    """The figure of a range."""
    return figure_of(reach_data(found))


def figure_of(data: ReachData) -> Figure:
    """The figure of numbers over distance."""
    title = _title(data)
    return Figure(
        name=NAME,
        title=title,
        text=_text(data),
        data=msgspec.to_builtins(data),
        draw=lambda: _drawing(data, title),
    )


def _drawing(data: ReachData, title: str) -> Drawing:
    from radiosim.report.figures.reach_paint import drawing_of

    return drawing_of(data, NAME, title)


def has_trips(data: ReachData) -> bool:
    """Whether any stream trips without a fault."""
    return any(any(stream.nuisance_per_hour.nominal) for stream in data.streams)


def _title(data: ReachData) -> str:
    ends = [(_half_lost_m(data, s.delivery_ratio.low), s.name) for s in data.streams]
    lost = [(metres, name) for metres, name in ends if metres is not None]
    told = [limit for limit in data.limits if not limit.is_open[0]]
    if told:
        first = min(told, key=lambda limit: limit.distance_m)
        return f"A requirement on {_whose(first)} {_where(first)}"
    if lost:
        metres, name = min(lost)
        return f"{name} may lose half of its values from about {fmt_sig3(rounded_m(metres))} m on"
    farthest = fmt_sig3(rounded_m(data.distance_m[-1]))
    return f"Every stream gets over half of its values through to {farthest} m"


def _whose(limit: Limit) -> str:
    """What a requirement is about: the stream or output that its figure names."""
    steps = limit.requirement.split(" ")[0].split(".")
    return steps[1] if len(steps) > 2 else steps[0]


def _where(limit: Limit) -> str:
    worse, better = (f"{metres:g}" for metres in limit.distance_m)
    if limit.distance_m[1] == 0:
        return "holds at no distance"
    if limit.distance_m[0] == 0:
        return f"may hold nowhere, or up to {better} m"
    if limit.is_open[1]:
        return f"stops holding from {worse} m on, or far beyond {better} m"
    return f"stops holding somewhere from {worse} to {better} m"


def _half_lost_m(data: ReachData, shares: Sequence[float | None]) -> float | None:
    """The first distance at which a stream loses half."""
    pairs = zip(data.distance_m, shares, strict=True)
    return next((metres for metres, share in pairs if share is not None and share < 0.5), None)


def _text(data: ReachData) -> str:
    parts = [
        f"Bands: {UNKNOWN_DB:g} dB less to {UNKNOWN_DB:g} dB more than described, the line as "
        "described."
    ]
    for stream in data.streams:
        ends = [
            _half_lost_m(data, band)
            for band in (stream.delivery_ratio.low, stream.delivery_ratio.high)
        ]
        said = ["not within what was looked at" if m is None else _about(m) for m in ends]
        parts.append(
            f"{stream.name}: half is lost {said[0]} in the worse case, {said[1]} in the better; "
            f"its longest gap is {_first_last(stream.longest_gap_ms.low)} in the worse."
        )
    for letter, limit in zip(LETTERS, data.limits, strict=False):
        parts.append(f"{letter}: {limit.requirement} {_where(limit)}.")
    if has_trips(data):
        parts.append(
            f"Where fewer than {100 * LEAST:g} % arrive, a failsafe that is never left cannot trip."
        )
    return " ".join(parts)


def _about(metres: float) -> str:
    return f"at about {rounded_m(metres):g} m"


def _first_last(waits_ms: Sequence[float | None]) -> str:
    there = [wait for wait in waits_ms if wait is not None]
    return (
        f"{duration_text(there[0])} near, {duration_text(there[-1])} far" if there else "not known"
    )
