"""The picture of a frame's bytes: a box a field, told apart by its name, colour and pattern."""

import re
from collections.abc import Iterator
from html import escape
from textwrap import wrap

from radiosim.errors import printable
from radiosim.report.figures.byte_map import SAME, ByteMap, FieldPlace
from radiosim.results.document import Drawing, Pictures
from radiosim.results.html import palette

WIDE_PX, NARROW_PX = 720, 328
_BYTES_A_ROW = {WIDE_PX: 8, NARROW_PX: 4}
_SERIES = 4
"""Colours that the page's palette has for things of one kind."""
PATTERNS = ("", "M0 8L8 0", "M0 0L8 8", "M0 4H8", "M4 0V8", "M0 4H8M4 0V8", "M0 8L8 0M0 0L8 8")
"""Lines of a tile of 8 px; no two of the first 28 fields look alike."""
_EDGE_PX, _NUMBER_PX, _BOX_PX, _GAP_PX = 2, 16, 44, 10
_ROW_PX = _NUMBER_PX + _BOX_PX + _GAP_PX
_LETTER_PX, _LINE_PX = 7.4, 17
_LEAST_TYPE_PX = 34
Box = tuple[int, int, int, FieldPlace | None]
"""Row, first bit in the row, bits, and whose they are."""


def drawing_of(name: str, data: ByteMap, title: str) -> Drawing:
    """The pictures for a page."""
    return Pictures(
        wide_svg="\n".join(_svg(f"{name}-wide", data, title, WIDE_PX)),
        narrow_svg="\n".join(_svg(f"{name}-narrow", data, title, NARROW_PX)),
    )


def file_svg(data: ByteMap) -> str:
    """The picture as a file of its own, in the colours of a light page."""
    text = "\n".join(_svg("bytes", data, f"{data.layout}: {data.size_bytes} bytes", WIDE_PX))
    colours = dict(reversed(re.findall(r"--([\w-]+): (#\w+)", palette())))
    ground = f'<rect width="100%" height="100%" fill="{colours["ground"]}"/>'
    head, _, rest = text.partition(">\n")
    sized = head.replace("<svg ", '<svg font-family="sans-serif" ', 1)
    painted = re.sub(r"var\(--([\w-]+)\)", lambda found: colours[found[1]], rest)
    return f"{sized}>\n{ground}\n{painted}\n"


def _svg(name: str, data: ByteMap, title: str, width: int) -> Iterator[str]:
    across = _BYTES_A_ROW[width]
    bit_px = (width - 2 * _EDGE_PX) / (8 * across)
    rows = -(-data.size_bytes // across)
    notes = [
        line for text in data.shared_bytes for line in wrap(text, int(width // _LETTER_PX)) or [""]
    ]
    height = rows * _ROW_PX + len(notes) * _LINE_PX
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img" '
        f'aria-label="{escape(title)}" font-size="{12 if width == WIDE_PX else 11}">'
    )
    yield from _patterns(name, data)
    for byte in range(data.size_bytes):
        row, column = divmod(byte, across)
        left = _EDGE_PX + 8 * column * bit_px
        yield _word(left + 2, row * _ROW_PX + _NUMBER_PX - 4, f"{byte}", "quiet")
    boxes = sorted(_boxes(data, across), key=lambda box: _is_bold(box[3]))
    for box in boxes:
        yield from _box(name, box, bit_px)
    for number, line in enumerate(notes):
        yield _word(_EDGE_PX, rows * _ROW_PX + number * _LINE_PX + 12, line, "ink")
    yield "</svg>"


def _is_bold(field: FieldPlace | None) -> bool:
    return field is not None and field.change not in (None, SAME)


def _patterns(name: str, data: ByteMap) -> Iterator[str]:
    yield "<defs>"
    for fill in sorted({field.fill for field in data.fields}):
        lines = PATTERNS[fill % len(PATTERNS)]
        if lines:
            yield _tile(f"{name}-{fill}", lines, f"series-{fill % _SERIES + 1}")
    yield _tile(f"{name}-none", PATTERNS[-1], "quiet")
    yield "</defs>"


def _tile(name: str, lines: str, colour: str) -> str:
    return (
        f'<pattern id="{name}" width="8" height="8" patternUnits="userSpaceOnUse">'
        f'<path d="{lines}" stroke="var(--{colour})" stroke-opacity="0.6" fill="none"/></pattern>'
    )


def _box(name: str, box: Box, bit_px: float) -> Iterator[str]:
    row, first, bits, field = box
    left, top = _EDGE_PX + first * bit_px, row * _ROW_PX + _NUMBER_PX
    place = f'x="{left:.1f}" y="{top}" width="{bits * bit_px:.1f}" height="{_BOX_PX}"'
    if field is None:
        yield f'<rect {place} fill="url(#{name}-none)" stroke="var(--quiet)"/>'
        return
    colour = f"var(--series-{field.fill % _SERIES + 1})"
    title = f"<title>{escape(printable(field.name))}</title>"
    yield f'<rect {place} fill="{colour}" fill-opacity="0.22" stroke="{colour}">{title}</rect>'
    if PATTERNS[field.fill % len(PATTERNS)]:
        yield f'<rect {place} fill="url(#{name}-{field.fill})">{title}</rect>'
    if _is_bold(field):
        yield f'<rect {place} fill="none" stroke="var(--bad)" stroke-width="3"/>'
    room_px = bits * bit_px - 6
    yield _label(left + 4, top + 18, _fitted(printable(field.name), room_px))
    if room_px >= _LEAST_TYPE_PX:
        yield _label(left + 4, top + 35, field.type)


def _fitted(text: str, room_px: float) -> str:
    letters = max(1, int(room_px / _LETTER_PX))
    return text if len(text) <= letters else text[: max(1, letters - 1)] + "…" * (letters > 1)


def _label(left: float, base: float, text: str) -> str:
    """A word upon a pattern, with a rim that keeps it readable."""
    return (
        f'<text x="{left:.1f}" y="{base}" fill="var(--ink)" stroke="var(--ground)" '
        f'stroke-width="3" paint-order="stroke" pointer-events="none">{escape(text)}</text>'
    )


def _word(left: float, base: float, text: str, colour: str) -> str:
    return (
        f'<text x="{left:.1f}" y="{base}" fill="var(--{colour})">{escape(printable(text))}</text>'
    )


def _boxes(data: ByteMap, across: int) -> Iterator[Box]:
    """Neighbours in a row that have one owner, the highest bit of each byte at its left."""
    owner_of = {bit: field for field in data.fields for bit in field.bits}
    run: Box | None = None
    for byte in range(data.size_bytes):
        row, column = divmod(byte, across)
        for place, bit in enumerate(range(7, -1, -1)):
            owner = owner_of.get(8 * byte + bit)
            if run is not None and run[0] == row and run[3] is owner:
                run = (row, run[1], run[2] + 1, owner)
                continue
            if run is not None:
                yield run
            run = (row, 8 * column + place, 1, owner)
    if run is not None:
        yield run
