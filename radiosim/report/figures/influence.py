"""Figure: which settings matter; shares of the margin's variance."""

import math
from dataclasses import dataclass

import msgspec

from radiosim.errors import printable
from radiosim.report.figures.canvas import Canvas, drawing
from radiosim.report.figures.looks import fill
from radiosim.results.document import Drawing, Figure
from radiosim.results.formats import fmt_percent
from radiosim.study.tune.tune_results import Tuned

NAME = "influence"
LEAST_NAMED = 0.01
"""Shares below say nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InfluenceData:
    """Settings, the weightiest first."""

    settings: tuple[str, ...]
    first_order: tuple[float, ...]
    """What each explains of the variance by itself."""
    total: tuple[float | None, ...]
    """By itself and together with others; None: not known."""
    rest: float
    """What none explains by itself."""


def influence_data(found: Tuned) -> InfluenceData | None:
    """The numbers of a tuning; None if they are not known."""
    ranked = sorted(found.influence.items(), key=lambda item: -item[1].first_order)
    if not ranked:
        return None
    return InfluenceData(
        settings=tuple(key for key, _ in ranked),
        first_order=tuple(of.first_order for _, of in ranked),
        total=tuple(of.total for _, of in ranked),
        rest=max(0.0, 1 - math.fsum(of.first_order for _, of in ranked)),
    )


def figure(found: Tuned) -> Figure | None:
    """The figure of a tuning; None if no shares are known."""
    data = influence_data(found)
    return None if data is None else figure_of(data)


def figure_of(data: InfluenceData) -> Figure:
    """The figure of shares."""
    title = _title(data)
    return Figure(
        name=NAME,
        title=title,
        text=_text(data),
        data=msgspec.to_builtins(data),
        draw=lambda: drawing_of(data, NAME, title),
    )


def _title(data: InfluenceData) -> str:
    first, most = data.settings[0], data.first_order[0]
    if most < LEAST_NAMED:
        return "No setting by itself explains how the points differ"
    if data.rest > most:
        share = fmt_percent(most)
        return f"Settings matter together: by itself, {short_key(first)} explains most, {share}"
    return f"{short_key(first)} matters most: {fmt_percent(most)} of the margin's variance"


def _text(data: InfluenceData) -> str:
    parts = [
        f"{key}: first-order {fmt_percent(first)}"
        + ("" if total is None else f", total {fmt_percent(total)}")
        for key, first, total in zip(data.settings, data.first_order, data.total, strict=True)
    ]
    has_total = any(total is not None for total in data.total)
    return (
        f"Shares of the margin's variance. {'; '.join(parts)}; the rest, together or by chance: "
        f"{fmt_percent(data.rest)}. First-order: what a setting explains by itself."
        f"{' Total: by itself and together with others.' if has_total else ''}"
    )


def short_key(key: str) -> str:
    """A key of a transmitter without what all have in common."""
    return key.removeprefix("transmitter.")


def drawing_of(data: InfluenceData, name: str, title: str) -> Drawing:
    """The pictures."""
    rows = len(data.settings) + 1
    return drawing(
        name,
        title,
        lambda canvas: _paint(canvas, data),
        height_px=100 + 42 * rows,
        narrow_height_px=110 + 44 * rows,
    )


def _paint(canvas: Canvas, data: InfluenceData) -> None:
    (axes,) = canvas.axes()
    names = [*map(short_key, data.settings), "the rest"]
    has_total = any(total is not None for total in data.total)
    if has_total:
        axes.barh(
            range(len(data.total)), [total or 0.0 for total in data.total], height=0.4,
            label="total", **fill(1, 0.25),
        )  # fmt: skip
    values = [*(max(0.0, first) for first in data.first_order), data.rest]
    height = 0.2 if has_total else 0.4
    axes.barh(range(len(values)), values, height=height, label="first-order", **fill(0, 0.8))
    for row, name in enumerate(names):
        axes.annotate(
            printable(name), (0, row - 0.2), xytext=(2, 1), textcoords="offset points", va="bottom",
        )  # fmt: skip
    axes.set_yticks([])
    axes.set_ylim(len(names) - 0.5, -0.8)
    axes.set_xlim(0, 1)
    axes.xaxis.set_major_formatter(lambda value, _: f"{100 * value:g} %")
    axes.set_xlabel("share of the margin's variance")
    canvas.legend(ncols=2)
