"""A frame drawn byte by byte as a picture."""

from collections.abc import Iterator
from html import escape
from textwrap import wrap

from radiosim.counted import counted
from radiosim.layout import Layout
from radiosim.layout.layout import owners
from radiosim.report.layouts.byte_map import BYTES_A_ROW, bit_lines, type_of

_BIT = 12
_BYTE = 8 * _BIT
_HIGH = 44
_ROW = _HIGH + 30
_MARGIN = 12
_TOP = 54
_LETTER = 7
_LINE = 17
_FILLS = ("#dbe9f6", "#e4f1dc", "#fbe8d0", "#ece0f0", "#f6dede", "#dff0ee")
_PADDING = "#f2f2f2"


def svg_map(layout: Layout) -> str:
    """SVG text: eight bytes a row, the highest bit of each at its left, then bytes of bits."""
    rows = -(-layout.size_bytes // BYTES_A_ROW)
    width = 2 * _MARGIN + _BYTE * min(layout.size_bytes, BYTES_A_ROW)
    width = max(width, 2 * _MARGIN + 4 * _BYTE)
    notes = [line for byte in bit_lines(layout) for line in wrap(byte, width // _LETTER)]
    height = _TOP + rows * _ROW + len(notes) * _LINE
    title = f"{layout.name}: {counted(layout.size_bytes, 'byte')}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}" font-family="sans-serif" font-size="12">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        f'<text x="{_MARGIN}" y="22" font-size="15" font-weight="bold">{escape(title)}</text>',
        *_numbers(layout),
        *_boxes(layout),
        *_notes(notes, _TOP + rows * _ROW),
        "</svg>",
        "",
    ]
    return "\n".join(parts)


def _corner(byte: int) -> tuple[int, int]:
    """Left and top of a byte's box."""
    return _MARGIN + _BYTE * (byte % BYTES_A_ROW), _TOP + _ROW * (byte // BYTES_A_ROW)


def _numbers(layout: Layout) -> Iterator[str]:
    for byte in range(layout.size_bytes):
        left, top = _corner(byte)
        yield f'<text x="{left + 2}" y="{top - 5}" fill="#555555">{byte}</text>'


def _boxes(layout: Layout) -> Iterator[str]:
    for left, top, bits, owner in _runs(layout):
        fill = _PADDING if owner is None else _FILLS[owner % len(_FILLS)]
        yield (
            f'<rect x="{left}" y="{top}" width="{bits * _BIT}" height="{_HIGH}" '
            f'fill="{fill}" stroke="#444444"/>'
        )
        if owner is None:
            continue
        field = layout.fields[owner]
        fits = max(bits * _BIT // _LETTER, 1)
        yield (
            f'<text x="{left + 3}" y="{top + 19}"><title>{escape(field.name)}</title>'
            f"{escape(field.name[:fits])}</text>"
        )
        if bits >= 4:
            yield f'<text x="{left + 3}" y="{top + 36}" fill="#555555">{type_of(field)}</text>'


def _notes(lines: list[str], top: int) -> Iterator[str]:
    """What a box of a bit or two has no room for."""
    for number, line in enumerate(lines):
        yield f'<text x="{_MARGIN}" y="{top + number * _LINE}">{escape(line)}</text>'


def _runs(layout: Layout) -> Iterator[tuple[int, int, int, int | None]]:
    """Left, top, bits and field of each box: neighbours in a row that have one owner."""
    owner_of = owners(layout)
    run: tuple[int, int, int, int | None] | None = None
    for byte in range(layout.size_bytes):
        left, top = _corner(byte)
        for column, bit in enumerate(range(7, -1, -1)):
            found = owner_of[8 * byte + bit]
            owner = None if found is None else found[0]
            if run is not None and run[1] == top and run[3] == owner:
                run = (run[0], top, run[2] + 1, owner)
                continue
            if run is not None:
                yield run
            run = (left + column * _BIT, top, 1, owner)
    if run is not None:
        yield run
