"""A frame drawn byte by byte, in letters that any terminal has."""

from collections.abc import Iterator
from dataclasses import dataclass

from radiosim.layout import Field, Layout
from radiosim.layout.layout import owners

BYTES_A_ROW = 8
_CELL = 8
_LABEL = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """Some bytes of a frame that belong together, as far as one row has them."""

    first_byte: int
    bytes: int
    text: str
    """The field's name; `bits` where several share a byte; empty for padding."""


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
        joins = last is not None and last.text == text != "bits" and byte % BYTES_A_ROW
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
        return "bits"
    field = layout.fields[layout.index_of(name)]
    return "bits" if field.is_bit_field and field.bits % 8 else name


def byte_map(layout: Layout) -> Iterator[str]:
    """Lines of a map, at most 78 wide: bytes from left to right, then what shares a byte."""
    rows: dict[int, list[Cell]] = {}
    for cell in cells(layout):
        rows.setdefault(cell.first_byte // BYTES_A_ROW, []).append(cell)
    for row in rows.values():
        yield _numbers(row)
        yield _rule(row)
        yield _names(row)
        yield _rule(row)
    yield from bit_lines(layout)


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


def bit_lines(layout: Layout) -> Iterator[str]:
    """A line for each byte that several fields share, from its lowest bit up."""
    owner_of = owners(layout)
    for cell in cells(layout):
        if cell.text != "bits":
            continue
        byte = cell.first_byte
        runs = _runs(layout, owner_of[8 * byte : 8 * byte + 8])
        yield f"byte {byte}: " + ", ".join(f"{_bits(low, high)} {name}" for low, high, name in runs)


def _runs(
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


def type_of(field: Field) -> str:
    """A field's type as a scenario writes it, with its bits."""
    letter = {"unsigned": "u", "signed": "i", "float": "f"}[field.kind]
    if field.is_bit_field:
        return f"{letter}:{field.bits}"
    return f"{letter}{field.bits}"
