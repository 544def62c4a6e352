"""What a page is made of: plain values; every text may hold anything, the template escapes it."""

from dataclasses import dataclass

from radiosim.report.figures.drawn import Drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class PageTable:
    """A table; in its own box if it is too wide for the screen."""

    caption: str
    columns: tuple[str, ...]
    """Titles. A column's cells stand right, but the first's and those of `words`."""
    rows: tuple[tuple[str, ...], ...]
    words: tuple[int, ...] = ()
    """Numbers of further columns whose cells are words."""
    note: str = ""
    is_folded: bool = False
    """Shown when the reader opens it; on paper, always."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One thing that the results say."""

    heading: str
    """The finding, as a sentence without its stop."""
    prose: tuple[str, ...] = ()
    """Paragraphs before the figure."""
    figure: Drawn | None = None
    tables: tuple[PageTable, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """All that one page says, in reading order."""

    title: str
    what: str
    """What was done: starts, length, command's name."""
    verdict: str
    """One sentence."""
    is_well: bool | None
    """Whether all that was asked holds; None: could not be judged."""
    cautions: tuple[str, ...]
    """What may hurt, the worst first."""
    sections: tuple[Section, ...]
    scenario_name: str
    scenario_text: str
    """As the user wrote it; empty if it is not at hand."""
    command: str
    """What makes the page again."""
    seed: int | None
    """None: nothing was drawn."""
    version: str
