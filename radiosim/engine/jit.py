"""Runs folds over rows: as machine code where that can be had, else on plain objects.

A fold is a few marked functions (`marks.py`) that take a state, rows and room for what they make.
Their state is one nested record whose fields are a class's annotations; a table of rows is an
array of records, or a list of objects.
"""

import copy
import functools
from collections.abc import Callable, Mapping, Sequence
from types import ModuleType, SimpleNamespace
from typing import Annotated, Any, TypeVar, get_args, get_origin, get_type_hints

import msgspec
import numpy as np
import numpy.typing as npt

from radiosim.engine.once import once
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import MOST_ANGLES, MOST_EMITTERS, MOST_MOTION, MOST_POINTS
from radiosim.engine.simulate import load_fast
from radiosim.trace import Table, table_dtype


def dtype_of(shape: type, counts: dict[str, int]) -> np.dtype[Any]:
    """The record whose fields are a class's annotations; `counts`: length of each array field."""
    fields: list[Any] = []
    for name, kind in get_type_hints(shape, include_extras=True).items():
        if get_origin(kind) is Annotated:
            fields.append((name, table_dtype(get_args(kind)[1]), counts[name]))
        elif get_origin(kind) in (Sequence, tuple, list):
            fields.append((name, _field(get_args(kind)[0], counts), counts[name]))
        else:
            fields.append((name, _field(kind, counts)))
    return np.dtype(fields)


def _field(kind: type, counts: dict[str, int]) -> Any:
    if kind is int:
        return "i8"
    if kind is float:
        return "f8"
    return dtype_of(kind, counts)


def blank(shape: type, counts: dict[str, int]) -> Any:
    """A plain object with the same fields, all zero: the same functions run on it uncompiled."""
    record = SimpleNamespace()
    for name, kind in get_type_hints(shape, include_extras=True).items():
        inner = get_args(kind)[0] if get_origin(kind) in (Sequence, tuple, list) else None
        if inner is None:
            value = _zero(kind, counts)
        else:
            value = [_zero(inner, counts) for _ in range(counts[name])]
        setattr(record, name, value)
    return record


def _zero(kind: type, counts: dict[str, int]) -> Any:
    if kind is int:
        return 0
    return 0.0 if kind is float else blank(kind, counts)


def fill(record: Any, row: Any, was: Any = None) -> None:
    """Copy a row of the plan into its record; lists of rows fill the first places.

    `was`: the row that stands there; what is equal in both is left as it is.
    """
    if was is None:
        was = (None,) * len(row)
    for name, value, before in zip(row._fields, row, was, strict=True):
        # A whole number has no sign of zero.
        if value is before or (type(value) is int and value == before):
            continue
        if isinstance(value, tuple):
            if hasattr(value, "_fields"):
                fill(record[name], value, before)
            # As text, for 0.0 is not −0.0.
            elif before is None or repr(value) != repr(before):
                _fill_list(record[name], value, 0 if before is None else len(before))
        else:
            record[name] = value


def _fill_list(places: Any, values: tuple[Any, ...], before: int) -> None:
    """Fill the first places with rows or numbers, and clear those of `before` that are left."""
    for j, part in enumerate(values):
        places[j] = tuple(part) if isinstance(part, tuple) else part
    if before > len(values):
        places[len(values) : before] = np.zeros((), places.dtype)


F = TypeVar("F", bound=Callable[..., Any])
T = TypeVar("T")
Record = Any
"""A record of compiled code, or a plain object with the same attributes."""
Rows = Any
"""An array of such records, or a list of such objects."""

MOST_WORKS = 64
"""Works of one program that compiled state has room for."""
ANTENNA_COUNTS = {"gain": MOST_ANGLES, "motion": MOST_MOTION, "heading": MOST_POINTS}
"""Lengths of the lists of an antenna."""
RECEIVER_COUNTS = {
    "work": MOST_WORKS,
    "deaf": MOST_WORKS,
    "emitter": MOST_EMITTERS,
} | ANTENNA_COUNTS
"""Lengths of the lists in a receiver's row."""
_NO_COUNTS: dict[str, int] = {}


class JitBackend(msgspec.Struct, frozen=True):
    """What runs folds."""

    compiler: ModuleType | None
    """The compiled engine's package; None: folds run as they stand."""

    def entry(self, function: F) -> F:
        """A fold's function, ready to be called."""
        return function if self.compiler is None else _entry(function)

    def record(self, shape: type, counts: Mapping[str, int] = _NO_COUNTS) -> Record:
        """A state, all zero; `counts`: length of each array field by name."""
        if self.compiler is None:
            return blank(shape, dict(counts))
        return np.zeros(1, _dtype(shape, tuple(counts.items())))[0]

    def moulded(
        self, scenario: object, what: str, make: Callable[[], tuple[Rows, T]]
    ) -> tuple[Rows, T]:
        """Records that are alike in every start of a scenario: made once, and copied from then on.

        `make` gives them, and what else there is to know of them, which nobody changes.
        """
        if self.compiler is None:
            return make()
        rows, told = once(scenario, what, make)
        return rows.copy(), told

    def records(self, shape: type, length: int, counts: Mapping[str, int] = _NO_COUNTS) -> Rows:
        """Room for some records, all zero."""
        if self.compiler is None:
            one = vars(blank(shape, dict(counts)))
            if all(isinstance(value, int | float) for value in one.values()):
                return [SimpleNamespace(**one) for _ in range(length)]
            return [blank(shape, dict(counts)) for _ in range(length)]
        return np.zeros(length, _dtype(shape, tuple(counts.items())))

    def copied(self, record: Record) -> Record:
        """The same state once more, to go back to."""
        if self.compiler is None:
            return copy.deepcopy(record)
        return np.array([record], record.dtype)[0]

    def room(self, shape: type, length: int) -> Rows:
        """Room for some records that a fold makes: what stands there before is of no meaning."""
        if self.compiler is None:
            return self.records(shape, length)
        return np.empty(length, _dtype(shape, ()))

    def rows(self, table: Table) -> Rows:
        """Rows of a trace, to be read by a fold."""
        if self.compiler is None:
            names = table.dtype.names or ()
            return [SimpleNamespace(**dict(zip(names, row, strict=True))) for row in table.tolist()]
        return table

    def table(self, shape: type, rows: Rows, count: int) -> Table:
        """The first rows that a fold made, as columns; overwritten when it goes on."""
        if self.compiler is not None:
            filled: Table = rows[:count]
            return filled
        values = [tuple(vars(row).values()) for row in rows[:count]]
        return np.array(values, _dtype(shape, ()))

    def numbers(self, values: npt.NDArray[Any]) -> Any:
        """Numbers in one or more dimensions, to be read by a fold."""
        return values.tolist() if self.compiler is None else values

    def get(self, record: Record, name: str) -> Any:
        """A field of a state."""
        return getattr(record, name) if self.compiler is None else record[name]

    def told(self, records: Rows, names: tuple[str, ...]) -> list[list[Any]]:
        """Some fields of each of some records: numbers, and lists of them."""
        if self.compiler is None:
            return [[getattr(record, name) for name in names] for record in records]
        rows = records[list(names)].tolist()
        return [
            [value.tolist() if isinstance(value, np.ndarray) else value for value in row]
            for row in rows
        ]

    def set(self, record: Record, **values: float) -> None:
        """Set fields of a state."""
        for name, value in values.items():
            if self.compiler is None:
                setattr(record, name, value)
            else:
                record[name] = value

    def fill(self, record: Record, row: Any, was: Any = None) -> None:
        """Set all fields of a state to those of a row, as `fill` does."""
        if self.compiler is None:
            record.__dict__.update(row._asdict())
        else:
            fill(record, row, was)


def backend_for(plan: Plan, engine: str) -> JitBackend:
    """What runs the folds over a plan's rows that an engine has made.

    Folds of the reference's rows run as they stand: no compiler is loaded for them.
    """
    if engine == "reference":
        return JitBackend(None)
    loaded = load_fast()
    has_room = max(len(plan.rx.work), len(plan.rx.deaf)) <= MOST_WORKS
    return JitBackend(loaded if has_room and not isinstance(loaded, str) else None)


@functools.cache
def _entry(function: F) -> F:
    loaded = load_fast()
    assert not isinstance(loaded, str), "only a machine with a compiler compiles"
    made: F = loaded.compiled(function)
    return made


@functools.cache
def _dtype(shape: type, counts: tuple[tuple[str, int], ...]) -> np.dtype[Any]:
    return dtype_of(shape, dict(counts))
