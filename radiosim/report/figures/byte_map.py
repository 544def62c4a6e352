"""Figure: what lies where in a frame, byte by byte, and what a change moved."""

from collections.abc import Iterator
from dataclasses import dataclass

import msgspec

from radiosim.counted import counted
from radiosim.layout import Field, Layout
from radiosim.layout.layout import bits_of, owners
from radiosim.results.document import Drawing, Figure
from radiosim.results.formats import list_text

SAME, MOVED, ALONE = "same", "moved", "only here"
BYTES_A_ROW = 8
_CELL, _LABEL = 8, 5
_MOST_NAMED = 4
SHARED = "bits"
"""Stands on a terminal for a byte that several fields share."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldPlace:
    """A field and where its bits lie."""

    name: str
    type: str
    bits: tuple[int, ...]
    """Of the frame: byte * 8 + bit in the byte."""
    fill: int
    """Number of its colour and pattern: the same for a field of that name in both layouts."""
    change: str | None
    """Against the other layout: same, moved (place, type or conversion), or only here; None: there
    is no other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ByteMap:
    """A frame's fields."""

    layout: str
    age: str
    """old or new, of two layouts that are compared; empty: it stands alone."""
    size_bytes: int
    fields: tuple[FieldPlace, ...]
    shared_bytes: tuple[str, ...]
    """A line for each byte that several fields share, from its lowest bit up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """Some bytes of a frame that belong together, as far as one row has them."""

    first_byte: int
    bytes: int
    text: str
    """The field's name; `bits` where several share a byte; empty for padding."""


def figure(layout: Layout) -> Figure:
    """The figure of one layout; a terminal shows it in letters."""
    return _figure("bytes", _byte_map(layout, None, "", _fills(layout)), tuple(letter_map(layout)))


def figures(old: Layout, new: Layout) -> tuple[Figure, Figure]:
    """The figures of two layouts: a field has one colour in both, by its name."""
    fills = _fills(old, new)
    return (
        _figure("bytes-old", _byte_map(old, new, "old", fills), ()),
        _figure("bytes-new", _byte_map(new, old, "new", fills), ()),
    )


def svg_map(layout: Layout) -> str:
    """The picture of one layout as a file of its own."""
    from radiosim.report.figures.byte_map_paint import file_svg

    return file_svg(_byte_map(layout, None, "", _fills(layout)))


def type_of(field: Field) -> str:
    """A field's type as a scenario writes it, with its bits."""
    letter = {"unsigned": "u", "signed": "i", "float": "f"}[field.kind]
    return f"{letter}:{field.bits}" if field.is_bit_field else f"{letter}{field.bits}"


def _fills(*layouts: Layout) -> dict[str, int]:
    names = dict.fromkeys(field.name for layout in layouts for field in layout.fields)
    return {name: number for number, name in enumerate(names)}


def _byte_map(layout: Layout, other: Layout | None, age: str, fills: dict[str, int]) -> ByteMap:
    return ByteMap(
        layout=layout.name,
        age=age,
        size_bytes=layout.size_bytes,
        fields=tuple(
            FieldPlace(
                name=field.name,
                type=type_of(field),
                bits=bits_of(field, layout.byte_order),
                fill=fills[field.name],
                change=None if other is None else _change(field, layout, other),
            )
            for field in layout.fields
        ),
        shared_bytes=tuple(_shared_bytes(layout)),
    )


def _change(field: Field, layout: Layout, other: Layout) -> str:
    mine = next((theirs for theirs in other.fields if theirs.name == field.name), None)
    if mine is None:
        return ALONE
    is_same = (
        bits_of(field, layout.byte_order) == bits_of(mine, other.byte_order)
        and field.kind == mine.kind
        and (field.scale, field.neutral, field.offset) == (mine.scale, mine.neutral, mine.offset)
    )
    return SAME if is_same else MOVED


def _figure(name: str, data: ByteMap, letters: tuple[str, ...]) -> Figure:
    title = _title(data)
    return Figure(
        name=name,
        title=title,
        text=" ".join(_texts(data)),
        data=msgspec.to_builtins(data),
        draw=lambda: _drawing(name, data, title),
        letters=letters,
    )


def _drawing(name: str, data: ByteMap, title: str) -> Drawing:
    from radiosim.report.figures.byte_map_paint import drawing_of

    return drawing_of(name, data, title)


def _title(data: ByteMap) -> str:
    size = counted(data.size_bytes, "byte")
    if not data.age:
        return f"{data.layout} has {size}"
    moved = [field.name for field in data.fields if field.change == MOVED]
    alone = [field.name for field in data.fields if field.change == ALONE]
    verb = "lies" if len(moved) == 1 else "lie"
    said = [f"{_named(moved)} {verb} elsewhere or differ{'s' if verb == 'lies' else ''}"]
    said = (said if moved else []) + ([f"{_named(alone)} only here"] if alone else [])
    head = f"The {data.age} frame has {size}"
    return f"{head}: {'; '.join(said)}" if said else f"{head}, every field where the other has it"


def _named(names: list[str]) -> str:
    """Names as in a sentence; many of them as the first and how many more."""
    if len(names) <= _MOST_NAMED:
        return list_text(names)
    return f"{', '.join(names[: _MOST_NAMED - 1])} and {len(names) - _MOST_NAMED + 1} more"


def _texts(data: ByteMap) -> Iterator[str]:
    yield "Eight bits a byte, the highest at its left."
    if data.age:
        yield "Thick edge: not as in the other layout."
    for field in data.fields:
        first, last = min(field.bits) // 8, max(field.bits) // 8
        place = f"byte {first}" if first == last else f"bytes {first} to {last}"
        if len(field.bits) % 8:
            place += f", {_bits(min(field.bits) % 8, max(field.bits) % 8)}"
        change = "" if field.change is None else f", {field.change}"
        yield f"{field.name} ({field.type}): {place}{change}."
    owned = {bit for field in data.fields for bit in field.bits}
    unused = 8 * data.size_bytes - len(owned)
    if unused:
        yield f"{counted(unused, 'bit')} carry nothing (crossed)."


def letter_map(layout: Layout) -> Iterator[str]:
    """Lines of a map, at most 78 wide: bytes from left to right, then what shares a byte."""
    rows: dict[int, list[Cell]] = {}
    for cell in cells(layout):
        rows.setdefault(cell.first_byte // BYTES_A_ROW, []).append(cell)
    for row in rows.values():
        yield _numbers(row)
        yield _rule(row)
        yield _names(row)
        yield _rule(row)
    yield from _shared_bytes(layout)


def cells(layout: Layout) -> tuple[Cell, ...]:
    """A frame cut into fields, bytes of bits, and padding, none longer than a row."""
    owner_of = owners(layout)
    found: list[Cell] = []
    for byte in range(layout.size_bytes):
        names = {
            None if owner is None else layout.fields[owner[0]].name
            for owner in owner_of[8 * byte : 8 * byte + 8]
        }
        text = _text(layout, names)
        last = found[-1] if found else None
        joins = last is not None and last.text == text != SHARED and byte % BYTES_A_ROW
        if last is not None and joins:
            found[-1] = Cell(first_byte=last.first_byte, bytes=last.bytes + 1, text=text)
        else:
            found.append(Cell(first_byte=byte, bytes=1, text=text))
    return tuple(found)


def _text(layout: Layout, names: set[str | None]) -> str:
    if names == {None}:
        return ""
    (name, *others) = names
    if others or name is None:
        return SHARED
    field = layout.fields[layout.index_of(name)]
    return SHARED if field.is_bit_field and field.bits % 8 else name


def _numbers(row: list[Cell]) -> str:
    first = row[0].first_byte
    count = sum(cell.bytes for cell in row)
    numbers = "".join(f" {byte:<{_CELL}}" for byte in range(first, first + count))
    return f"{'byte':<{_LABEL}}{numbers}".rstrip()


def _rule(row: list[Cell]) -> str:
    return " " * _LABEL + "+" + "".join("-" * _width(cell) + "+" for cell in row)


def _names(row: list[Cell]) -> str:
    parts = []
    for cell in row:
        width = _width(cell) - 1
        text = cell.text or "." * (width - 1)
        text = text if len(text) < width else text[: width - 2] + "~"
        parts.append(f" {text:<{width}}|")
    return " " * _LABEL + "|" + "".join(parts)


def _width(cell: Cell) -> int:
    return cell.bytes * (_CELL + 1) - 1


def _shared_bytes(layout: Layout) -> Iterator[str]:
    owner_of = owners(layout)
    for cell in cells(layout):
        if cell.text == SHARED:
            byte = cell.first_byte
            runs = _bit_runs(layout, owner_of[8 * byte : 8 * byte + 8])
            said = ", ".join(f"{_bits(low, high)} {name}" for low, high, name in runs)
            yield f"byte {byte}: {said}"


def _bit_runs(
    layout: Layout, owner_of: tuple[tuple[int, int] | None, ...]
) -> list[tuple[int, int, str]]:
    found: list[tuple[int, int, str]] = []
    for bit, owner in enumerate(owner_of):
        name = "nothing" if owner is None else layout.fields[owner[0]].name
        if found and found[-1][2] == name:
            found[-1] = (found[-1][0], bit, name)
        else:
            found.append((bit, bit, name))
    return found


def _bits(low: int, high: int) -> str:
    return f"bit {low}" if low == high else f"bits {low}-{high}"
