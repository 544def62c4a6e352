"""What functions of Python give back: what was found, and every way to show it."""

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from html import escape
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from radiosim.results import data, terminal
from radiosim.results.cell_html import notebook_html
from radiosim.results.document import Figure, Report
from radiosim.safety import CAUTION

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True, slots=True)
class Plot:
    """One figure: call it to paint it."""

    figure: Figure

    def __call__(self, ax: "Axes | None" = None) -> "Axes":
        """Paint the figure into `ax`, or into a new figure of pyplot; the axes that were painted.

        Where the figure has several panels, they take the place of `ax`: see `ax.figure.axes`.
        TypeError for the map of a frame's bytes, which is `svg` alone.
        """
        from radiosim.report.figures.canvas import Painting  # noqa: PLC0415 - loads matplotlib

        made = self.figure.draw()
        if not isinstance(made, Painting):
            raise TypeError(f"{self.figure.name} cannot be painted in axes: take its svg()")
        return made.into(ax)

    def svg(self) -> str:
        """The figure as a page has it, as an SVG file with its words and numbers."""

        return alone(self.figure)

    def _repr_svg_(self) -> str:
        """What a notebook shows of a plot that was not called."""
        return self.svg()

    @property
    def title(self) -> str:
        """What the figure shows, as a finding."""
        return self.figure.title

    @property
    def text(self) -> str:
        """The figure in words."""
        return self.figure.text

    @property
    def data(self) -> Mapping[str, Any]:
        """The numbers that the figure is drawn from."""
        return self.figure.data

    def __repr__(self) -> str:
        return f"<plot {self.figure.name}: {self.figure.title}>"


class Plots(Mapping[str, Plot]):
    """The plots of results by name, as `plot.gaps()` or `plot["gaps"]()`."""

    def __init__(self, report: Callable[[], Report]) -> None:
        self._report = report
        self._made: dict[str, Plot] | None = None

    def _all(self) -> dict[str, Plot]:
        """Each figure that a page has; made when first asked for."""
        if self._made is None:
            figures = (figure for part in self._report().sections for figure in part.figures)
            self._made = {figure.name.replace("-", "_"): Plot(figure) for figure in figures}
        return self._made

    def __getattr__(self, name: str) -> Plot:
        if name.startswith("_"):
            raise AttributeError(name)
        plots = self._all()
        if name not in plots:
            there = ", ".join(plots) or "none"
            raise AttributeError(f"no plot {name!r}, must be one of: {there}")
        return plots[name]

    def __getitem__(self, name: str) -> Plot:
        return self._all()[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._all())

    def __len__(self) -> int:
        return len(self._all())

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self._all()]

    def __repr__(self) -> str:
        return "\n".join(map(repr, self._all().values())) or "<no plots>"


Found = TypeVar("Found")


class StudyResult(Generic[Found]):
    """Results of a function that has the name of a command: as text, tables, JSON, page, plots."""

    def __init__(self, found: Found, report: Report, *, ok: bool | None = None) -> None:
        self._found, self._report, self._ok = found, report, ok

    @property
    def found(self) -> Found:
        """What was found, as objects: the data of `json`."""
        return self._found

    @property
    def ok(self) -> bool | None:
        """Whether all that was asked for holds; None: nothing was asked for."""
        return self._ok

    @cached_property
    def plot(self) -> Plots:
        """Each figure of the page, as `result.plot.range(ax)`; `list(result.plot)` names them."""
        return Plots(self._with_figures)

    def report(self, *, width: int = 80, more: bool = False) -> str:
        """The text that the command prints, `width` columns wide; `more`: with all figures."""
        return terminal.plain_text(self._report, width, is_more=more)

    def tables(self) -> Mapping[str, Any]:
        """Tables by name: pandas DataFrames, or dicts of numpy arrays where there is no pandas."""
        return data.frames_of(self._report)

    def json(self) -> str:
        """The text that the command writes with --json."""
        return data.json_text(self._report)

    def page(self) -> str:
        """The page that the command writes with --page: HTML in one file, figures drawn."""
        from radiosim.results.html import page_html  # noqa: PLC0415 - loads jinja2

        return page_html(self._with_figures())

    def _with_figures(self) -> Report:
        """The report with what only pages and plots need."""
        return self._report

    def _repr_html_(self) -> str:
        """What a notebook shows: what the first screen of the command says."""
        return notebook_html(self._report)

    def __repr__(self) -> str:
        said = (self._report.title, self._report.done, self._report.verdict)
        return f"<{type(self).__name__} {': '.join(text for text in said if text)}>\n{CAUTION}"


_LETTERS = 'text { font-family: "DejaVu Sans", Verdana, sans-serif !important; }'


def alone(figure: Figure) -> str:
    """The wide picture as an SVG file with its colours, its words and its numbers."""
    from radiosim.results.html import palette  # noqa: PLC0415 - loads jinja2

    opened, rest = figure.draw().wide_svg.split(">", maxsplit=1)
    style = f"{palette()}svg {{ background: var(--ground); }}\n{_LETTERS}\n"
    numbers = escape(json.dumps(dict(figure.data), separators=(",", ":")), quote=False)
    return (
        f"{opened}>\n<title>{escape(figure.title)}</title>\n<desc>{escape(figure.text)}</desc>\n"
        f"<metadata>{numbers}</metadata>\n<style>\n{style}</style>{rest}\n"
    )
