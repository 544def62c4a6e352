"""`radiosim layout show` as a report: where each field lies, and what a servo sees of it."""

from collections.abc import Iterator, Sequence
from typing import Any

from msgspec import Struct

from radiosim.counted import counted
from radiosim.layout import Field
from radiosim.layout.emit_vectors import Vector
from radiosim.layout.layout import unused_bits
from radiosim.report.figures.byte_map import figure, type_of
from radiosim.report.servo_effects import LARGEST_RANGE, ServoView, servo_views
from radiosim.results.document import Column, Origin, Report, Section, Table
from radiosim.results.formats import fmt_exact, fmt_sig3
from radiosim.safety import MAY_PINCH, STILL
from radiosim.scenario.named_layout import NamedLayout

CAUTION = (
    f"A layout is half of a protocol: try every control at both ends of its travel, {STILL}; "
    f"{MAY_PINCH}."
)


class FieldData(Struct, frozen=True, kw_only=True):
    """One field of a layout."""

    name: str
    type: str
    c_type: str
    """As its header writes it; empty: there is none."""
    offset_bits: int
    size_bits: int
    scale: float
    neutral: float
    offset: float
    min: float
    max: float
    resolution: float
    servos: tuple[ServoView, ...]


class LayoutData(Struct, frozen=True, kw_only=True):
    """A layout with its fields."""

    name: str
    abi: str | None
    """Whose compiler laid it out; None: none did, or all do alike."""
    abi_status: str
    byte_order: str
    size_bytes: int
    padding_bytes: int
    unused_bits: int
    fields: tuple[FieldData, ...]
    ignored: tuple[str, ...]
    """What the header includes and was not read."""
    assumed: tuple[str, ...]


class VectorData(Struct, frozen=True, kw_only=True):
    """A frame to test a firmware with; by name of field."""

    name: str
    numbers: dict[str, float]
    """On the wire."""
    values: dict[str, float]
    """In the fields' own units."""
    bytes: str


class VectorsData(Struct, frozen=True, kw_only=True):
    """Frames to test a firmware with."""

    layout: str
    size_bytes: int
    vectors: tuple[VectorData, ...]


def layout_data(named: NamedLayout) -> LayoutData:
    """A layout as data."""
    layout, struct = named.layout, named.struct
    return LayoutData(
        name=layout.name,
        abi=named.abi.name if named.abi else None,
        abi_status=named.abi.label if named.abi else "",
        byte_order=layout.byte_order,
        size_bytes=layout.size_bytes,
        padding_bytes=layout.padding_bytes,
        unused_bits=unused_bits(layout),
        fields=tuple(_field(named, field) for field in layout.fields),
        ignored=tuple(struct.ignored) if struct else (),
        assumed=tuple(struct.assumed) if struct else (),
    )


def _field(named: NamedLayout, field: Field) -> FieldData:
    struct = named.struct
    written = next((f.c_type for f in struct.fields if f.name == field.name), "") if struct else ""
    return FieldData(
        name=field.name,
        type=type_of(field),
        c_type=written,
        offset_bits=field.bit_offset,
        size_bits=field.bits,
        scale=field.scale,
        neutral=field.neutral,
        offset=field.offset,
        min=field.minimum,
        max=field.maximum,
        resolution=field.resolution,
        servos=servo_views(named.layout, field, named.scenario),
    )


def vectors_data(named: NamedLayout, vectors: Sequence[Vector]) -> VectorsData:
    """Frames of a layout as data."""
    names = [field.name for field in named.layout.fields]
    return VectorsData(
        layout=named.layout.name,
        size_bytes=named.layout.size_bytes,
        vectors=tuple(
            VectorData(
                name=vector.name,
                numbers=dict(zip(names, vector.numbers, strict=True)),
                values=dict(zip(names, vector.values, strict=True)),
                bytes=vector.data.hex(" "),
            )
            for vector in vectors
        ),
    )


def layout_report(named: NamedLayout, origin: Origin) -> Report:
    """A map, the fields, and what a servo sees of them."""
    data = layout_data(named)
    picture = figure(named.layout)
    return Report(
        title=data.name,
        subject="Where each field of a frame lies",
        done=size_text(named),
        sections=(
            Section(sentences=tuple(notes(named)), figures=(picture,)),
            Section(heading="Fields", tables=(_fields(data),)),
            *_servos(named, data),
        ),
        cautions=(CAUTION,),
        data=data,
        origin=origin,
    )


def head(named: NamedLayout) -> str:
    """What the layout is, in a line."""
    return f"{named.layout.name}: {size_text(named)}"


def size_text(named: NamedLayout) -> str:
    """How long the layout is, and for whose compiler."""
    layout = named.layout
    size = counted(layout.size_bytes, "byte")
    padding = f", {layout.padding_bytes} of them padding" if layout.padding_bytes else ""
    if named.abi:
        return f"{size}{padding}, as {named.abi.name} lays it out"
    if named.targets and not named.is_alike:
        sizes = ", ".join(f"{name} {struct.size_bytes}" for name, struct in named.targets.items())
        return f"not the same for every compiler (bytes: {sizes})"
    return f"{size}{padding}" + (", for every compiler" if named.targets else "")


def notes(named: NamedLayout) -> Iterator[str]:
    """What should be known about where the layout comes from."""
    struct = named.struct
    if named.abi and named.abi.label:
        yield f"{named.abi.name}: {named.abi.label} ({named.abi.authority})"
    if struct is not None and struct.ignored:
        yield f"not read: {', '.join(struct.ignored)}"
    if struct is not None:
        yield from struct.assumed


def _fields(data: LayoutData) -> Table:
    return Table(
        key="fields",
        columns=(
            Column(key="name", title="field", is_text=True),
            Column(key="type", where="data"),
            Column(key="offset_bits", where="data"),
            Column(key="size_bits", where="data"),
            Column(key="c_type", where="data"),
            Column(key="shown_type", title="type", is_text=True, where="screen"),
            Column(key="shown_offset", title="offset", is_text=True, where="screen"),
            Column(key="scale", where="data"),
            Column(key="neutral", where="data"),
            Column(key="offset", where="data"),
            Column(key="min", title="min", show=_limit_text),
            Column(key="max", title="max", show=_limit_text),
            Column(key="resolution", title="resolution", show=_resolution_text),
        ),
        rows=tuple(_row(field) for field in data.fields),
        note="Offset: bytes from the start of the frame. Resolution: one step on the wire.",
    )


def _row(field: FieldData) -> tuple[Any, ...]:
    is_bits = ":" in field.type
    byte, bit = divmod(field.offset_bits, 8)
    return (
        field.name,
        field.type,
        field.offset_bits,
        field.size_bits,
        field.c_type,
        f"{field.c_type} ({field.type})" if field.c_type and not is_bits else field.type,
        f"{byte}, bit {bit}" if is_bits else f"{byte}",
        field.scale,
        field.neutral,
        field.offset,
        field.min,
        field.max,
        field.resolution,
    )


def _limit_text(value: float) -> str:
    """An end of a range, if it is one that a control can have."""
    return "-" if abs(value) > LARGEST_RANGE else fmt_exact(value)


def _resolution_text(value: float) -> str:
    return fmt_exact(value) if value else "-"


def _servos(named: NamedLayout, data: LayoutData) -> Iterator[Section]:
    rows = tuple(
        (field.name, view.output, view.step_us, view.step_deg, view.dead_band_us, view.is_felt)
        for field in data.fields
        for view in field.servos
    )
    assumed = (
        "Assumed: 180 degrees over 500 to 2500 us, and the whole range of the field over that."
    )
    table = Table(
        key="servos",
        columns=(
            Column(key="field", title="field", is_text=True),
            Column(key="output", title="output", is_text=True, priority=1),
            Column(key="step_us", title="step", unit="us", show=fmt_sig3),
            Column(key="step_deg", title="step", unit="degrees", show=fmt_sig3),
            Column(key="dead_band_us", title="dead band", unit="us", show=fmt_exact),
            Column(key="is_felt", title="servo", is_text=True, show=_felt_text),
        ),
        rows=rows,
        where="everywhere" if rows else "data",
    )
    yield Section(
        heading="One step at a servo" if rows else "",
        sentences=(assumed,) if rows and named.scenario is None else (),
        tables=(table,),
    )


def _felt_text(is_felt: bool) -> str:
    return "follows" if is_felt else "does not follow"
