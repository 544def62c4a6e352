"""Figure: which settings matter; shares of the margin's variance."""

from dataclasses import dataclass

from radiosim.report.figures.canvas import Canvas, drawn
from radiosim.report.figures.drawn import Drawn
from radiosim.report.figures.fills import fill
from radiosim.report.terminal.words import printable, share
from radiosim.study.tune.tuned import Tuned

LEAST_NAMED = 0.01
"""Shares below say nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InfluenceData:
    """Settings, the weightiest first."""

    settings: tuple[str, ...]
    alone: tuple[float, ...]
    """What each explains of the variance by itself."""
    in_all: tuple[float | None, ...]
    """By itself and together with others; None: not known."""
    rest: float
    """What none explains alone."""


def influence_data(found: Tuned) -> InfluenceData | None:
    """The numbers of a tuning; None if they are not known."""
    ranked = sorted(found.influence.items(), key=lambda it: -it[1].alone)
    if not ranked:
        return None
    return InfluenceData(
        settings=tuple(key for key, _ in ranked),
        alone=tuple(it.alone for _, it in ranked),
        in_all=tuple(it.in_all for _, it in ranked),
        rest=max(0.0, 1 - sum(it.alone for _, it in ranked)),
    )


def draw(data: InfluenceData) -> Drawn:
    """The figure."""
    rows = len(data.settings) + 1
    return drawn(
        "influence",
        data,
        title=_title(data),
        text=_text(data),
        paint=lambda canvas: _paint(canvas, data),
        height_px=100 + 42 * rows,
        narrow_height_px=110 + 44 * rows,
    )


def _title(data: InfluenceData) -> str:
    first, most = data.settings[0], data.alone[0]
    if most < LEAST_NAMED:
        return "No setting alone explains how the points differ"
    if data.rest > most:
        return f"Settings matter together: alone, {_short(first)} explains most, {share(most)}"
    return f"{_short(first)} matters most: {share(most)} of the margin's variance"


def _text(data: InfluenceData) -> str:
    parts = [
        f"{key}: {share(alone)} alone" + ("" if every is None else f", {share(every)} in all")
        for key, alone, every in zip(data.settings, data.alone, data.in_all, strict=True)
    ]
    has_all = any(every is not None for every in data.in_all)
    return (
        f"Shares of the margin's variance. {'; '.join(parts)}; the rest, together or by chance: "
        f"{share(data.rest)}.{' In all: alone and together with others.' if has_all else ''}"
    )


def _short(key: str) -> str:
    return key.removeprefix("transmitter.")


def _paint(canvas: Canvas, data: InfluenceData) -> None:
    (axes,) = canvas.axes()
    names = [*map(_short, data.settings), "the rest"]
    has_all = any(every is not None for every in data.in_all)
    if has_all:
        axes.barh(
            range(len(data.in_all)), [every or 0.0 for every in data.in_all], height=0.4,
            label="in all", **fill(1, 0.25),
        )  # fmt: skip
    values = [*(max(0.0, alone) for alone in data.alone), data.rest]
    height = 0.2 if has_all else 0.4
    axes.barh(range(len(values)), values, height=height, label="alone", **fill(0, 0.8))
    for row, name in enumerate(names):
        axes.annotate(
            printable(name), (0, row - 0.2), xytext=(2, 1), textcoords="offset points", va="bottom",
        )  # fmt: skip
    axes.set_yticks([])
    axes.set_ylim(len(names) - 0.5, -0.8)
    axes.set_xlim(0, 1)
    axes.xaxis.set_major_formatter(lambda value, _: f"{100 * value:g} %")
    axes.set_xlabel("share of the margin's variance")
    canvas.figure.legend(loc="outside lower left", ncols=2)
