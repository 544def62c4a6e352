"""What all figures share: sizes, letters, colours that follow the page, pictures as SVG text.

Colours are those of a light page. In a page's pictures they become variables of its style sheet, so
that a figure follows a reader's light or dark screen; text stays text. The same numbers give the
same bytes. In axes of a notebook they stay as they are.
"""

import dataclasses
import json
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from io import StringIO
from typing import TYPE_CHECKING, Any

from radiosim.results import document
from radiosim.results.document import Drawing

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, QUIET, LINE, GROUND, BAD, GOOD = (
    "#1c2b36",
    "#55636d",
    "#d9d3c3",
    "#f8f6f0",
    "#a8241c",
    "#22694a",
)
"""Text and axes, lesser text, grid, page, what is wrong, what is right: as palette.css has them."""
SERIES = ("#0d5c9e", "#a85a00", "#5a7413", "#7a4a9c")
"""Colours of things of one kind, such as streams; taken in turn."""
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

    figure: "Figure"
    width_px: float
    is_narrow: bool
    frame: "Axes | None" = None
    """Axes to paint in; None: the whole figure."""
    is_guest: bool = False
    """Whether the figure is somebody else's, who may have more in it."""
    panels: "list[Axes]" = field(default_factory=list)
    """What was asked for so far."""

    def axes(self, rows: int = 1, *, sharex: bool = False, **kwargs: Any) -> "tuple[Axes, ...]":
        """Axes one below the other."""
        if self.frame is not None and rows == 1:
            made = [self.frame]
        else:
            grid = self._grid(rows, **kwargs)
            made = list(grid.subplots(sharex=sharex, squeeze=False)[:, 0])
        self.panels.extend(made)
        return tuple(made)

    def _grid(self, rows: int, **kwargs: Any) -> Any:
        """A grid in the place of the frame, which is no longer seen, or of the whole figure."""
        if self.frame is None:
            return self.figure.add_gridspec(rows, 1, **kwargs)
        self.frame.set_axis_off()
        place = self.frame.get_subplotspec()
        if place is not None:
            return place.subgridspec(rows, 1, **kwargs)
        box = self.frame.get_position()
        ends = {"left": box.x0, "right": box.x1, "bottom": box.y0, "top": box.y1}
        return self.figure.add_gridspec(rows, 1, **ends, **kwargs)

    def key(self) -> None:
        """What lines and marks mean, each word once, in columns that fit."""
        found = self._labelled()
        if found:
            widest_px = _KEY_PX + _LETTER_PX * max(map(len, found))
            columns = max(1, min(len(found), int(self.width_px / widest_px)))
            self.legend(list(found.values()), list(found), ncols=columns, columnspacing=1.2)

    def legend(self, *entries: Any, ncols: int, **kwargs: Any) -> None:
        """What marks mean: below a picture of its own, inside axes that were given."""
        if self.is_guest:
            if not entries and "handles" not in kwargs:
                found = self._labelled()
                entries = (list(found.values()), list(found))
            self.panels[-1].legend(*entries, loc="best", **kwargs)
        else:
            self.figure.legend(*entries, loc="outside lower left", ncols=ncols, **kwargs)

    def _labelled(self) -> dict[str, Any]:
        """Labels of the panels, each with the first mark that has it."""
        found: dict[str, Any] = {}
        for axes in self.panels:
            for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
                found.setdefault(label, handle)
        return found


Paint = Callable[[Canvas], None]

WIDE_PX, NARROW_PX = 720, 328
"""A page's column, and what a phone of 360 px leaves of it."""
NARROW_AXES_PX = 420
"""Axes narrower than this are painted as for a phone."""


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
    """A figure to be painted."""
    return Painting(
        name=name,
        title=title,
        paint=paint,
        height_px=height_px,
        narrow_height_px=narrow_height_px or height_px,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Painting:
    """A figure that is painted when a picture of it is asked for."""

    name: str
    title: str
    paint: Paint
    height_px: int
    narrow_height_px: int

    @property
    def wide_svg(self) -> str:
        """For a page's column."""
        return svg(f"{self.name}-wide", self.title, self.paint, WIDE_PX, self.height_px)

    @property
    def narrow_svg(self) -> str:
        """For a phone."""
        return svg(f"{self.name}-narrow", self.title, self.paint, NARROW_PX, self.narrow_height_px)

    def into(self, axes: "Axes | None" = None) -> "Axes":
        """Paint it into axes, or into a new figure of pyplot; the axes.

        Where it has several panels, they take the place of the axes.
        """

        import matplotlib as mpl

        if axes is not None:
            _paint_into(axes, self.paint)
            return axes
        from matplotlib import pyplot

        with mpl.rc_context(_style(WIDE_PX)):
            figure = pyplot.figure(
                figsize=(WIDE_PX / _DPI, self.height_px / _DPI), layout="constrained"
            )
            frame = figure.subplots()
            self.paint(Canvas(figure=figure, width_px=WIDE_PX, is_narrow=False, frame=frame))
        return frame


def _paint_into(axes: "Axes", paint: Paint) -> None:
    """Paint into axes of somebody else, who has chosen the letters."""

    import matplotlib as mpl

    figure = axes.get_figure(root=True)
    if figure is None:
        raise ValueError("axes must be part of a figure, got some that were removed")
    width_px = axes.get_window_extent().width * _DPI / figure.dpi
    style: Any = _STYLE | {"font.family": mpl.rcParams["font.family"]}
    with mpl.rc_context(style):
        paint(
            Canvas(
                figure=figure,
                width_px=width_px,
                is_narrow=width_px < NARROW_AXES_PX,
                frame=axes,
                is_guest=True,
            )
        )


def as_builtins(data: Any) -> dict[str, Any]:
    """A dataclass of numbers as JSON has it."""
    made: dict[str, Any] = json.loads(json.dumps(dataclasses.asdict(data)))
    return made


def svg(name: str, title: str, paint: Paint, width_px: int, height_px: int) -> str:
    """A picture to stand in a page; ids begin with the name, so that several may stand in one."""

    import matplotlib as mpl
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    with mpl.rc_context(_style(width_px)):
        figure = Figure(figsize=(width_px / _DPI, height_px / _DPI), dpi=_DPI, layout="constrained")
        FigureCanvasSVG(figure)
        paint(Canvas(figure=figure, width_px=width_px, is_narrow=width_px < WIDE_PX))
        text = StringIO()
        nothing = {"Date": None, "Creator": None, "Format": None, "Type": None}
        figure.savefig(text, format="svg", transparent=True, metadata=nothing)
    return _for_page(text.getvalue(), name, title)


def _style(width_px: int) -> Any:
    """How pictures of our own look, letters included."""
    size = 11 if width_px < WIDE_PX else 12
    sized = ("font.size", "axes.labelsize", "legend.fontsize", "xtick.labelsize", "ytick.labelsize")
    return _STYLE | dict.fromkeys(sized, size)


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
