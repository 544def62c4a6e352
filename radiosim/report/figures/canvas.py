"""What all figures share: sizes, letters, colours that follow the page, pictures as SVG text.

Colours are drawn as placeholders and become variables of the page's style sheet, so that a figure
follows a reader's light or dark screen; text stays text. The same numbers give the same bytes.
"""

import dataclasses
import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from io import StringIO
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from radiosim.results import document
from radiosim.results.document import Drawing

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INK, QUIET, LINE, GROUND, BAD, GOOD = (
    "#010203",
    "#020304",
    "#030405",
    "#040506",
    "#050607",
    "#060708",
)
"""Placeholders: text and axes, lesser text, grid, page, what is wrong, what is right."""
SERIES = ("#070809", "#08090a", "#090a0b", "#0a0b0c")
"""Placeholders of things of one kind, such as streams; taken in turn."""
DASHES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1, 1.5)), (0, (6, 2, 1, 2)))
"""Line styles beside them: colour is never alone."""
MARKERS = "os^Dvphd"
"""Marks of things of one kind, where line styles say something else."""
THIN_PX, THICKER_PX = 1.8, 1.6


def width_px(number: int, count: int) -> float:
    """Of a line of several: the first are thicker, so that lines upon each other all show."""
    return THIN_PX + THICKER_PX * (count - 1 - number) / max(1, count - 1)


HATCHES = ("", "////", "\\\\\\\\", "xxxx")
"""Never dots: as SVG they are a hundred times as long."""

_NAMES = {
    INK: "ink",
    QUIET: "quiet",
    LINE: "line",
    GROUND: "ground",
    BAD: "bad",
    GOOD: "good",
    **{colour: f"series-{number + 1}" for number, colour in enumerate(SERIES)},
}
_KEY_PX, _LETTER_PX = 50, 7.0
"""Of an entry in a key: its mark and gaps, and a letter."""
_DPI = 72
"""Of SVG as it is drawn: one point is one pixel."""
_STYLE: dict[str, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "radiosim",
    "text.parse_math": False,
    "font.family": "DejaVu Sans",
    "text.color": INK,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.unicode_minus": True,
    "axes.formatter.useoffset": False,
    "axes.linewidth": 0.8,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "grid.color": LINE,
    "grid.linewidth": 0.7,
    "lines.linewidth": 1.8,
    "hatch.linewidth": 0.8,
    "hatch.color": INK,
    "legend.frameon": False,
    "legend.handlelength": 2.6,
    "path.simplify": True,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Canvas:
    """One picture under way."""

    figure: Figure
    width_px: int
    is_narrow: bool

    def axes(self, rows: int = 1, **kwargs: Any) -> "tuple[Axes, ...]":
        """Axes one below the other."""
        made = self.figure.subplots(rows, 1, squeeze=False, **kwargs)
        return tuple(made[:, 0])

    def key(self) -> None:
        """What lines and marks mean, below the axes, each word once, in columns that fit."""
        found: dict[str, Any] = {}
        for axes in self.figure.axes:
            for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
                found.setdefault(label, handle)
        if found:
            widest_px = _KEY_PX + _LETTER_PX * max(map(len, found))
            columns = max(1, min(len(found), int(self.width_px / widest_px)))
            self.figure.legend(
                list(found.values()),
                list(found),
                loc="outside lower left",
                ncols=columns,
                columnspacing=1.2,
            )


Paint = Callable[[Canvas], None]

WIDE_PX, NARROW_PX = 720, 328
"""A page's column, and what a phone of 360 px leaves of it."""


def figure(
    name: str,
    data: Any,
    *,
    title: str,
    text: str,
    paint: Paint,
    height_px: int = 300,
    narrow_height_px: int | None = None,
) -> document.Figure:
    """A figure that is painted for both widths once a page asks; `data` is its dataclass."""
    return document.Figure(
        name=name,
        title=title,
        text=text,
        data=as_builtins(data),
        draw=lambda: drawing(
            name, title, paint, height_px=height_px, narrow_height_px=narrow_height_px
        ),
    )


def drawing(
    name: str,
    title: str,
    paint: Paint,
    *,
    height_px: int = 300,
    narrow_height_px: int | None = None,
) -> Drawing:
    """A figure's pictures, painted for both widths."""
    return Drawing(
        wide_svg=svg(f"{name}-wide", title, paint, WIDE_PX, height_px),
        narrow_svg=svg(f"{name}-narrow", title, paint, NARROW_PX, narrow_height_px or height_px),
    )


def as_builtins(data: Any) -> dict[str, Any]:
    """A dataclass of numbers as JSON has it."""
    made: dict[str, Any] = json.loads(json.dumps(dataclasses.asdict(data)))
    return made


def svg(name: str, title: str, paint: Paint, width_px: int, height_px: int) -> str:
    """A picture to stand in a page; ids begin with the name, so that several may stand in one."""
    is_narrow = width_px < WIDE_PX
    size = 11 if is_narrow else 12
    style: Any = {
        **_STYLE,
        "font.size": size,
        "axes.labelsize": size,
        "legend.fontsize": size,
        "xtick.labelsize": size,
        "ytick.labelsize": size,
    }
    with mpl.rc_context(style):
        figure = Figure(figsize=(width_px / _DPI, height_px / _DPI), dpi=_DPI, layout="constrained")
        FigureCanvasSVG(figure)
        paint(Canvas(figure=figure, width_px=width_px, is_narrow=is_narrow))
        text = StringIO()
        nothing = {"Date": None, "Creator": None, "Format": None, "Type": None}
        figure.savefig(text, format="svg", transparent=True, metadata=nothing)
    return _for_page(text.getvalue(), name, title)


_BEFORE = re.compile(r"\A.*?(?=<svg)", re.DOTALL)
_OPEN = re.compile(r"<svg [^>]*?viewBox=\"(?P<box>[^\"]*)\"[^>]*>", re.DOTALL)
_LEFT_OUT = re.compile(r"<metadata>.*?</metadata>|<style[^>]*>.*?</style>|<!--.*?-->", re.DOTALL)
_ID = re.compile(r'(?P<lead>\bid="|url\(#|href="#)')
_BLANKS = re.compile(r"\n\s*")
_TAG = re.compile(r"<[^>]*>")
_LONG = re.compile(r"-?\d+\.\d{3,}")
"""Numbers finer than a hundredth of a pixel."""


def _for_page(text: str, name: str, title: str) -> str:
    body = _LEFT_OUT.sub("", _BEFORE.sub("", text))
    body = _ID.sub(lambda found: f"{found['lead']}{name}-", body)
    body = _TAG.sub(lambda tag: _LONG.sub(lambda found: f"{float(found[0]):.2f}", tag[0]), body)
    for colour, variable in _NAMES.items():
        body = body.replace(colour, f"var(--{variable})")
    label = title.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;")
    opened = _OPEN.sub(
        lambda found: (
            f'<svg xmlns="http://www.w3.org/2000/svg" '
            f'xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="{found["box"]}" '
            f'role="img" aria-label="{label}">'
        ),
        body,
        count=1,
    )
    return _BLANKS.sub("\n", opened).strip()
