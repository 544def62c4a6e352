"""Figure: what lies where in a frame, byte by byte, and what a change moved."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from matplotlib.patches import Rectangle

from radiosim.layout import Field, Layout
from radiosim.layout.layout import bits_of
from radiosim.report.figures.canvas import BAD, INK, QUIET, Canvas, drawn
from radiosim.report.figures.drawn import Drawn
from radiosim.report.figures.fills import fill
from radiosim.report.layouts.byte_map import type_of
from radiosim.report.terminal.words import listed, printable

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SAME, MOVED, ALONE = "same", "moved", "only here"
ROW_PX, HEAD_PX = 66, 30
_BYTES_A_ROW = {False: 8, True: 4}
"""For wide and narrow pictures."""
_LETTER_PX = 6.5


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldPlace:
    """A field and where its bits lie."""

    name: str
    type: str
    bits: tuple[int, ...]
    """Of the frame: byte · 8 + bit in the byte."""
    change: str
    """Against the other layout: same, moved (place, type or conversion), or only here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BytesData:
    """A frame's fields."""

    layout: str
    size_bytes: int
    fields: tuple[FieldPlace, ...]


def bytes_data(layout: Layout, other: Layout) -> BytesData:
    """The numbers of a layout, compared with those of another."""
    return BytesData(
        layout=layout.name,
        size_bytes=layout.size_bytes,
        fields=tuple(
            FieldPlace(
                name=field.name,
                type=type_of(field),
                bits=bits_of(field, layout.byte_order),
                change=_change(field, layout, other),
            )
            for field in layout.fields
        ),
    )


def _change(field: Field, layout: Layout, other: Layout) -> str:
    mine = next((it for it in other.fields if it.name == field.name), None)
    if mine is None:
        return ALONE
    is_same = (
        bits_of(field, layout.byte_order) == bits_of(mine, other.byte_order)
        and field.kind == mine.kind
        and (field.scale, field.neutral, field.offset) == (mine.scale, mine.neutral, mine.offset)
    )
    return SAME if is_same else MOVED


def draw(data: BytesData, which: str) -> Drawn:
    """The figure; `which`: old or new."""
    wide, narrow = (-(-data.size_bytes // _BYTES_A_ROW[is_narrow]) for is_narrow in (False, True))
    return drawn(
        f"bytes-{which}",
        data,
        title=_title(data, which),
        text=" ".join(_texts(data)),
        paint=lambda canvas: _paint(canvas, data),
        height_px=HEAD_PX + ROW_PX * wide,
        narrow_height_px=HEAD_PX + ROW_PX * narrow,
    )


def _title(data: BytesData, which: str) -> str:
    size = f"The {which} frame has {data.size_bytes} byte{'s' if data.size_bytes > 1 else ''}"
    moved = tuple(field.name for field in data.fields if field.change == MOVED)
    alone = tuple(field.name for field in data.fields if field.change == ALONE)
    said = [f"{listed(moved[:4])} {'lie' if len(moved) > 1 else 'lies'} elsewhere"] if moved else []
    said += [f"{listed(alone[:4])} only here"] if alone else []
    return f"{size}: {'; '.join(said)}" if said else f"{size}, every field where the other has it"


def _texts(data: BytesData) -> Iterator[str]:
    yield "Eight bits a byte, the highest at its left; a bold frame: not as in the other layout."
    for field in data.fields:
        first, last = min(field.bits) // 8, max(field.bits) // 8
        place = f"byte {first}" if first == last else f"bytes {first} to {last}"
        if len(field.bits) % 8:
            place += f", bits {min(field.bits) % 8} to {max(field.bits) % 8}"
        yield f"{field.name} ({field.type}): {place}, {field.change}."
    owned = {bit for field in data.fields for bit in field.bits}
    if len(owned) < 8 * data.size_bytes:
        yield f"{8 * data.size_bytes - len(owned)} bits carry nothing."


def _paint(canvas: Canvas, data: BytesData) -> None:
    (axes,) = canvas.axes()
    across = _BYTES_A_ROW[canvas.is_narrow]
    rows = -(-data.size_bytes // across)
    bit_px = (canvas.width_px - 12) / (8 * across)
    for byte in range(data.size_bytes):
        row, column = divmod(byte, across)
        axes.annotate(
            f"{byte}", (8 * column, row + 0.02), xytext=(1, -1), textcoords="offset points",
            color=QUIET, va="top",
        )  # fmt: skip
    for row, first, bits, number in _runs(data, across):
        _box(axes, data, (row, first, bits), number, bit_px)
    axes.set_xlim(-0.3, 8 * across + 0.3)
    axes.set_ylim(rows + 0.02, 0)
    axes.axis("off")


def _box(
    axes: "Axes", data: BytesData, place: tuple[int, int, int], number: int | None, bit_px: float
) -> None:
    """Bits of one row that belong together; None: nobody's."""
    row, first, bits = place
    corner, high = (first, row + 0.3), 0.62
    if number is None:
        axes.add_patch(Rectangle(corner, bits, high, fc="none", ec=QUIET, hatch="xx", lw=0.6))
        return
    field = data.fields[number]
    axes.add_patch(Rectangle(corner, bits, high, **fill(number, 0.3)))
    if field.change != SAME:
        axes.add_patch(Rectangle(corner, bits, high, fc="none", ec=BAD, lw=2.2, zorder=3))
    letters = max(1, int(bits * bit_px / _LETTER_PX) - 1)
    name = printable(field.name)
    label = name if len(name) <= letters else f"{name[: max(1, letters - 1)]}…"
    is_wide = bits * bit_px > 60
    axes.annotate(
        f"{label}\n{field.type}" if is_wide else label, (first + bits / 2, row + 0.61), ha="center",
        va="center", color=INK, zorder=4,
    )  # fmt: skip


def _runs(data: BytesData, across: int) -> Iterator[tuple[int, int, int, int | None]]:
    """Row, first column, bits and field of each box: neighbours in a row with one owner."""
    owner = {bit: number for number, field in enumerate(data.fields) for bit in field.bits}
    run: tuple[int, int, int, int | None] | None = None
    for byte in range(data.size_bytes):
        row, column = divmod(byte, across)
        for place, bit in enumerate(range(7, -1, -1)):
            mine = owner.get(8 * byte + bit)
            if run is not None and (run[0], run[3]) == (row, mine):
                run = (row, run[1], run[2] + 1, mine)
                continue
            if run is not None:
                yield run
            run = (row, 8 * column + place, 1, mine)
    if run is not None:
        yield run
