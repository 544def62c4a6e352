"""What functions of Python give back: what was found, and every way to show it."""

from collections.abc import Mapping
from functools import cached_property
from typing import Any, Generic, TypeVar

from radiosim.python.plots import Plots
from radiosim.results import data, tables, terminal
from radiosim.results.cell_html import notebook_html
from radiosim.results.document import Report

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
        return tables.frames_of(self._report)

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
        return f"<{type(self).__name__} {': '.join(text for text in said if text)}>"
