"""`layout show`: a map, the fields, and what a servo sees of them."""

from collections.abc import Iterator

from rich.console import Console
from rich.text import Text

from radiosim.counted import counted
from radiosim.layout import Field
from radiosim.report.layouts.byte_map import byte_map, type_of
from radiosim.report.layouts.servo_view import LARGEST_RANGE, ServoView, servo_views
from radiosim.report.terminal.parts import Trimmed, block, hanging, table
from radiosim.report.terminal.words import digits, limit
from radiosim.scenario.named_layout import NamedLayout


def print_layout(named: NamedLayout, console: Console) -> None:
    """Print one layout, 80 columns wide."""
    layout = named.layout
    console.print(Trimmed(part=Text(head(named), style="bold")))
    for note in notes(named):
        console.print(Trimmed(part=hanging([("", note)], widths=(0,))))
    console.print()
    for line in byte_map(layout):
        console.print(line)
    console.print()
    rows = [_row(named, field) for field in layout.fields]
    columns = ("field", " type", "at byte", "lowest", "highest", "one step")
    console.print(Trimmed(part=block("Fields", table(columns, rows))))
    seen = [
        (field.name, servo_text(view))
        for field in layout.fields
        for view in servo_views(layout, field, named.scenario)
    ]
    if seen:
        title = "One step at a servo"
        if named.scenario is None:
            title += " (assumed: 180 degrees over 500-2500 us, over the field's range)"
        console.print(Trimmed(part=block(title, hanging(seen))))


def head(named: NamedLayout) -> str:
    """What the layout is, in a line."""
    layout = named.layout
    size = counted(layout.size_bytes, "byte")
    gaps = f", {layout.padding_bytes} of them padding" if layout.padding_bytes else ""
    if named.abi:
        return f"{layout.name}: {size}{gaps}, as {named.abi.name} lays it out"
    if named.targets and not named.is_alike:
        sizes = ", ".join(f"{name} {it.size_bytes}" for name, it in named.targets.items())
        return f"{layout.name}: not the same for every compiler (bytes: {sizes})"
    return f"{layout.name}: {size}{gaps}" + (", for every compiler" if named.targets else "")


def notes(named: NamedLayout) -> Iterator[str]:
    """What should be known about where the layout comes from."""
    struct = named.struct
    if named.abi and named.abi.label:
        yield f"{named.abi.name}: {named.abi.label} ({named.abi.authority})"
    if struct is not None and struct.ignored:
        yield f"not read: {', '.join(struct.ignored)}"
    if struct is not None:
        yield from struct.assumed


def servo_text(view: ServoView) -> str:
    """What one step does at one servo."""
    name = f"{view.output}: " if view.output else ""
    step = f"{digits(view.step_us)} us = {digits(view.step_deg)} degrees a step"
    band = f"the dead band of {limit(view.dead_band_us)} us"
    verdict = f"felt (more than {band})" if view.is_felt else f"finer than {band}"
    return f"{name}{step}, {verdict}"


def _row(named: NamedLayout, field: Field) -> tuple[str, ...]:
    struct = named.struct
    written = next((f.c_type for f in struct.fields if f.name == field.name), "") if struct else ""
    kind = written if not written or field.is_bit_field else f"{written} ({type_of(field)})"
    byte, bit = divmod(field.bit_offset, 8)
    at = f"{byte}.{bit}" if field.is_bit_field else f"{byte}"
    is_wide = field.kind == "float" and field.maximum - field.minimum > LARGEST_RANGE
    low, high = ("-", "-") if is_wide else (limit(field.minimum), limit(field.maximum))
    step = limit(field.resolution) if field.resolution else "-"
    return field.name, kind or type_of(field), at, low, high, step
