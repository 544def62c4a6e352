"""The figures of results as matplotlib draws them, in axes of a notebook or in figures of their
own."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from radiosim.results.document import Figure, Report

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
        from radiosim.report.figures.alone import alone  # noqa: PLC0415 - loads jinja2

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
