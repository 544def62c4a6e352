"""What stands in the cells of a table, and which columns stay where there is little room."""

from dataclasses import dataclass
from typing import Any

from radiosim.results.document import Column, Role, Table


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
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
