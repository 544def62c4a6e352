"""What a report is made of: values and sentences, before any screen, page or file.

A `Report` has a verdict, warnings, sections and cautions; a `Section` has sentences, tables and
figures; a `Table` has columns, and rows of values as they were measured. Texts may hold anything:
each backend makes them harmless.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Literal, Protocol

import msgspec

from radiosim.results.formats import NOTHING, fmt_value
from radiosim.safety import CAUTION

Role = Literal["good", "warn", "bad"]
"""How a cell or sentence stands out. Colour is never alone: what warns or is bad has a mark, or
words that say so."""
Shown = Literal["everywhere", "screen", "data"]
"""`screen`: on the terminal and on pages; `data`: in CSV, Parquet and data frames."""
Form = Literal["prose", "item", "code", "tick", "blank"]
"""`item`: one of a list; `code`: to be pasted; `tick`: has a box to tick; `blank`: to be written
in."""
SectionRole = Literal["", "change", "caution"]
"""`change`: what to change, told before all else; `caution`: in a box."""
Row = tuple[Any, ...]


def no_role(_: Any) -> Role | None:
    """Nothing stands out."""
    return None


class Column(msgspec.Struct, frozen=True, kw_only=True):
    """One column: its key in data, its title and unit on screens, and how its values are shown."""

    key: str
    title: str = ""
    unit: str = ""
    show: Callable[[Any], str] = fmt_value
    """A value as text; None never gets here."""
    nothing: str = NOTHING
    """Stands on screens where the value is None."""
    role: Callable[[Any], Role | None] = no_role
    """How a value stands out; gets None too."""
    is_text: bool = False
    """Whether cells stand left and may wrap; numbers stand right and never wrap."""
    width: int | None = None
    """Letters after which a text wraps on a terminal; None: as wide as there is room."""
    priority: int = 0
    """Where a table is too wide, columns of the highest number go to a second line of their row
    first, of equal ones the rightmost. The first column stays."""
    where: Shown = "everywhere"
    blank: str = ""
    """Title of a blank to write in, beside each value that is not None; empty: there is none."""
    has_tick: bool = False
    """Whether a box to tick stands before each value that is not None."""

    @property
    def heading(self) -> str:
        """Title and unit, as they stand above the column."""
        return f"{self.title}, {self.unit}" if self.title and self.unit else self.title or self.unit

    def text(self, value: Any) -> str:
        """A value of this column as screens show it."""
        return self.nothing if value is None else self.show(value)


class Sentence(msgspec.Struct, frozen=True, kw_only=True):
    """A sentence that is more than prose."""

    text: str
    lead: str = ""
    """Stands before the text, which hangs beside it."""
    role: Role | None = None
    form: Form = "prose"


Said = str | Sentence


class Table(msgspec.Struct, frozen=True, kw_only=True):
    """Rows of values; what files hold and what screens show come from the same row."""

    key: str
    """One of a kind in its report: the name of its file, and of its data frame."""
    caption: str = ""
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    """A value for each column: float, int, str, bool or None; what no file holds may be more."""
    note: str = ""
    group_by: str = ""
    """Key of a text column whose values head groups of neighbouring rows; empty: no groups."""
    under: Mapping[str, Sequence[Said]] = msgspec.field(
        default_factory=lambda: MappingProxyType({})
    )
    """Said below the heading of a group."""
    where: Shown = "everywhere"
    is_folded: bool = False
    """Whether a page shows it only when the reader opens it; on paper it is open."""

    def __post_init__(self) -> None:
        """ValueError if a row does not fit the columns, or a column is not one of a kind."""
        keys = [column.key for column in self.columns]
        if self.where != "data" and not self.on_screen:
            raise ValueError(f"{self.key}: a table on screens must have a column there")
        if len(set(keys)) < len(keys):
            raise ValueError(f"{self.key}: columns must have different keys, got {', '.join(keys)}")
        if self.group_by and self.group_by not in keys:
            raise ValueError(f"{self.key}: group_by must be a column, got {self.group_by}")
        for row in self.rows:
            if len(row) != len(keys):
                raise ValueError(f"{self.key}: a row must have {len(keys)} values, got {len(row)}")

    @property
    def on_screen(self) -> tuple[int, ...]:
        """Places of the columns that screens show side by side; those without a text stay away."""
        return tuple(
            place
            for place, column in enumerate(self.columns)
            if column.where != "data" and column.key != self.group_by and not self._is_bare(place)
        )

    def _is_bare(self, place: int) -> bool:
        """Whether a column that shows nothing for nothing has nothing in every row."""
        column = self.columns[place]
        if column.blank or column.nothing or not self.rows:
            return False
        return all(row[place] in (None, "") for row in self.rows)

    @property
    def in_data(self) -> tuple[int, ...]:
        """Places of the columns that files hold."""
        return tuple(place for place, column in enumerate(self.columns) if column.where != "screen")

    def groups(self) -> Iterator[tuple[str, tuple[Row, ...]]]:
        """Heading and rows of each group, in order; one group without a heading if there are none.

        Neighbouring rows of one heading are one group.
        """
        if not self.group_by:
            yield "", self.rows
            return
        place = [column.key for column in self.columns].index(self.group_by)
        begun: list[Row] = []
        for row in self.rows:
            if begun and begun[-1][place] != row[place]:
                yield self.columns[place].text(begun[0][place]), tuple(begun)
                begun = []
            begun.append(row)
        if begun:
            yield self.columns[place].text(begun[0][place]), tuple(begun)


class Drawing(Protocol):
    """A figure as pictures; each may be made when it is asked for."""

    @property
    def wide_svg(self) -> str:
        """For a page's column."""

    @property
    def narrow_svg(self) -> str:
        """The same for a phone."""


class Pictures(msgspec.Struct, frozen=True, kw_only=True):
    """A figure whose pictures have been made."""

    wide_svg: str
    narrow_svg: str


class Figure(msgspec.Struct, frozen=True, kw_only=True):
    """A figure: what it says, its numbers, and how it is drawn once a page asks for it."""

    name: str
    """Of letters, digits and `-`; one of a kind in its report."""
    title: str
    """What it shows, as a finding."""
    text: str
    """What a reader who cannot see it needs: the numbers in words."""
    data: Mapping[str, Any]
    """The numbers that it is drawn from, as JSON has them."""
    draw: Callable[[], Drawing]
    """Makes the pictures; whoever never draws loads no library for it."""
    letters: tuple[str, ...] = ()
    """Lines that show it on a terminal, at most 78 wide; empty: a terminal leaves it out."""


class Section(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that the results say."""

    heading: str = ""
    sentences: tuple[Said, ...] = ()
    tables: tuple[Table, ...] = ()
    figures: tuple[Figure, ...] = ()
    letters: tuple[str, ...] = ()
    """Lines drawn with letters, at most 78 wide, for terminals that have those letters."""
    role: SectionRole = ""
    where: Literal["everywhere", "terminal", "page"] = "everywhere"
    is_more: bool = False
    """Whether a terminal shows it only to those who ask for more."""
    is_step: bool = False
    """Whether it is a step of the section before: a smaller heading, with a box to tick."""


class Origin(msgspec.Struct, frozen=True, kw_only=True):
    """Where a report comes from: what a reader needs to make it again."""

    command: str
    """What to type to get the page; empty: there is none."""
    scenario_name: str = ""
    scenario_text: str = ""
    """As the user wrote it; empty if it is not at hand."""
    seed: int | None = None
    """None: nothing was drawn."""
    version: str


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """All that was found, in reading order."""

    title: str
    subject: str
    """What kind of report it is, as a page says it above the title."""
    done: str
    """What was done to get it: starts, length."""
    verdict: str = ""
    """One sentence; empty: nothing was judged."""
    is_well: bool | None = None
    """Whether all that was asked holds; None: could not be judged."""
    answers: tuple[Sentence, ...] = ()
    """Short answers to what a reader asks first, each with its question as lead."""
    warnings: tuple[Said, ...] = ()
    """What is wrong or may hurt, the worst first."""
    sections: tuple[Section, ...] = ()
    tables: tuple[Table, ...] = ()
    """Further tables that files hold and no screen shows."""
    cautions_first: tuple[str, ...] = ()
    """Safety texts that a terminal says before anything else."""
    cautions: tuple[str, ...] = ()
    """Safety texts of this kind of report alone; every screen has `CAUTION` after them."""
    last: str = ""
    """What a terminal says at its very end, where it is read first."""
    blanks: tuple[str, ...] = ()
    """What is to be written in by hand above all; only a sheet for paper has any."""
    data: Any
    """What JSON holds: a msgspec Struct or a frozen dataclass."""
    origin: Origin

    def __post_init__(self) -> None:
        """ValueError if two figures have one name, or two tables that files hold one key."""
        figures = [figure.name for section in self.sections for figure in section.figures]
        tables = [table.key for table in self.data_tables()]
        for what, names in (("figures", figures), ("tables", tables)):
            if len(set(names)) < len(names):
                raise ValueError(
                    f"{what} of a report must have different names, got {', '.join(names)}"
                )

    def cautions_last(self) -> tuple[str, ...]:
        """Safety texts that a terminal says last; a page has these and the first in its box."""
        return (*self.cautions, CAUTION)

    def data_tables(self) -> tuple[Table, ...]:
        """The tables that files hold, those of the sections first."""
        shown = (table for section in self.sections for table in section.tables)
        return tuple(table for table in (*shown, *self.tables) if table.where != "screen")

    def ordered_sections(self) -> tuple[Section, ...]:
        """The sections as they are read: what to change comes first."""
        return tuple(sorted(self.sections, key=lambda section: section.role != "change"))


def sentences_of(said: Sequence[Said]) -> tuple[Sentence, ...]:
    """Each as a Sentence."""
    return tuple(Sentence(text=text) if isinstance(text, str) else text for text in said)


def shown_tables(section: Section) -> tuple[Table, ...]:
    """The tables of a section that screens show."""
    return tuple(table for table in section.tables if table.where != "data")


class Cell(msgspec.Struct, frozen=True, kw_only=True):
    """A value as screens show it."""

    text: str
    role: Role | None = None
    is_marked: bool = False
    """Whether a mark stands beside its colour: a number has one, a word says it itself."""
    has_tick: bool = False


def cell_of(column: Column, value: Any) -> Cell:
    """The cell of a value."""
    role = column.role(value)
    return Cell(
        text=column.text(value),
        role=role,
        is_marked=role in ("warn", "bad") and not column.is_text,
        has_tick=column.has_tick and value is not None,
    )


def staying_order(table: Table) -> tuple[int, ...]:
    """Places of the columns on screens, those first that stay longest; the first always does."""
    first, *others = table.on_screen
    return (first, *sorted(others, key=lambda place: (table.columns[place].priority, place)))
