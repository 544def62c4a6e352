"""What a scenario says about a layout, and everything that can be wrong with it."""

import math
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from radiosim.described import FIELD_UNIT, key
from radiosim.layout.field import WIRE_TYPES, WireType, exact_wire, round_half_away, wire_range
from radiosim.number_kinds import OnTheWire, Value

LEAST_SCALE, MOST_SCALE = 1e-12, 1e12
"""In size: finer steps than of any sensor, and coarser."""
LARGEST_BYTES = 65_536
"""Of a struct that is read: more than any frame holds."""

TypeName = Literal["u8", "u16", "u32", "u64", "i8", "i16", "i32", "i64", "f32", "f64"]


_Scale = Annotated[
    Annotated[float, Meta(ge=-MOST_SCALE, le=MOST_SCALE)],
    key(
        "what one step on the wire stands for; below 0 turns the direction round",
        "the field's own per step",
        moves=("output.servo_error_deg",),
        measure="the arithmetic in the firmware between stick and field",
    ),
]
_Neutral = Annotated[
    Value,
    key(
        "the value of a control at rest, sent as the bare offset",
        FIELD_UNIT,
        moves=("faults.recovered_ms",),
        measure="let go of the stick and print the value",
    ),
]
_Offset = Annotated[
    Annotated[int, Meta(ge=-(2**63), le=2**63 - 1)],
    key(
        "the number on the wire at neutral, such as 127 for a centred byte",
        "steps",
        moves=(),
        measure="let go of the stick and print the raw number that is sent",
    ),
]
_Min = Annotated[
    OnTheWire | None,
    key(
        "lowest value the control can have; left out: the lowest the wire carries",
        FIELD_UNIT,
        moves=("output.servo_error_deg",),
        measure="move the stick to its stop and print the value",
    ),
]
_Max = Annotated[
    OnTheWire | None,
    key(
        "highest value the control can have; left out: the highest on the wire",
        FIELD_UNIT,
        moves=("output.servo_error_deg",),
        measure="move the stick to its other stop and print the value",
    ),
]


class Conversion(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """What a number on the wire stands for: value = (number − offset) · scale + neutral."""

    scale: _Scale = 1.0
    neutral: _Neutral = 0.0
    offset: _Offset = 0
    min: _Min = None
    max: _Max = None


class FieldDescription(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """One value of a frame; on the wire (value − neutral) / scale + offset, in whole steps."""

    name: Annotated[
        str,
        key(
            "what signals, outputs and results call this value: one plain word",
            moves=(),
            measure="the name in the firmware's struct",
        ),
    ]
    type: Annotated[
        TypeName,
        key(
            "how it travels: u unsigned, i signed, f floating point, then the bits",
            moves=("output.servo_error_deg", "stream.duty_cycle"),
            measure="the type in the firmware's struct",
        ),
    ]
    scale: _Scale = 1.0
    neutral: _Neutral = 0.0
    offset: _Offset = 0
    min: _Min = None
    max: _Max = None
    bits: Annotated[
        Annotated[int, Meta(ge=1, le=64)] | None,
        key(
            "makes it a bit field this wide; neighbouring bit fields of one type share its "
            "bytes, lowest bit first. Left out: the whole type",
            "bits",
            moves=("stream.duty_cycle", "output.servo_error_deg"),
            measure="the width behind the colon in the firmware's struct",
        ),
    ] = None
    at_bit: Annotated[
        Annotated[int, Meta(ge=0, le=8 * LARGEST_BYTES)] | None,
        key(
            "bits of the frame before its lowest; filled in when a header is read",
            "bits",
            moves=(),
            measure="worked out from the header: nothing to measure",
        ),
    ] = None


class LayoutDescription(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """A frame's layout: its fields in order, or the C struct that has them."""

    byte_order: Annotated[
        Literal["little", "big"],
        key(
            "which byte of a number goes first: little = the lowest, as most boards",
            moves=(),
            measure="little on every common board; print the bytes of a known number",
        ),
    ] = "little"
    packed: Annotated[
        bool,
        key(
            "true: no gaps between fields; false: each is aligned to its own size, as a "
            "32-bit compiler does with a plain struct",
            moves=("stream.duty_cycle",),
            measure="compare sizeof the struct with the sum of its fields",
        ),
    ] = True
    fields: Annotated[
        tuple[FieldDescription, ...],
        key(
            "the values of the frame, in the order in which they are sent",
            moves=("stream.duty_cycle", "stream.duplicates", "output.servo_error_deg"),
            measure="the struct in the firmware, field by field",
        ),
    ] = ()
    header: Annotated[
        str,
        key(
            "C header file that holds the struct, instead of fields",
            moves=(),
            measure="the file in the firmware's folder",
        ),
    ] = ""
    struct: Annotated[
        str,
        key(
            "name of the struct in the header", moves=(), measure="the name behind the word struct"
        ),
    ] = ""
    abi: Annotated[
        str,
        key(
            "compiler target whose sizes and gaps apply: avr, arm, xtensa, riscv32 or host",
            moves=("stream.duty_cycle",),
            measure="the chip on the board",
        ),
    ] = ""
    convert: Annotated[
        dict[str, Conversion],
        key(
            "what the numbers of the header's struct stand for, by field",
            moves=("output.servo_error_deg",),
            measure="the lines of the firmware that pack the struct",
        ),
    ] = msgspec.field(default_factory=dict)
    size_bytes: Annotated[
        Annotated[int, Meta(ge=1, le=LARGEST_BYTES)] | None,
        key(
            "bytes of the whole struct; filled in when a header is read",
            "bytes",
            moves=("stream.duty_cycle",),
            measure="print sizeof of the struct on the board",
        ),
    ] = None


Problem = tuple[str, str]
"""Path as written in the scenario file, and what must be true there."""

KINDS_IN_WORDS = {"unsigned": "an unsigned", "signed": "a signed", "float": "a floating-point"}


def description_problems(name: str, description: LayoutDescription) -> tuple[Problem, ...]:
    """Every problem of a layout's description, as (path, text), in the order of the file."""
    path = f"layout.{name}"
    of_source = _of_source(description)
    if of_source:
        return tuple((f"{path}.{key}", text) for key, text in of_source)
    if not description.fields:
        return ((f"{path}.fields", "must have at least one field, got none"),)
    found: list[Problem] = []
    first_with: dict[str, int] = {}
    for index, field in enumerate(description.fields):
        here = f"{path}.fields[{index}]"
        earlier = first_with.setdefault(field.name, index)
        if earlier != index:
            found.append(
                (
                    f"{here}.name",
                    f"must be a name no other field has, got '{field.name}' "
                    f"(fields[{earlier}] has it)",
                )
            )
        found.extend((f"{here}.{key}", text) for key, text in _of_field(field))
    return tuple(found)


def _of_source(description: LayoutDescription) -> list[Problem]:
    """Keys that go with a header alone, or that its reading fills in."""
    if description.header:
        return [] if description.fields else [("header", "must be read before it has fields")]
    found = [
        (key, f"must be left out without header, got '{value}'")
        for key in ("struct", "abi")
        if (value := getattr(description, key))
    ]
    if description.convert:
        found.append(("convert", "must be left out without header: fields say it themselves"))
    if description.size_bytes is not None:
        found.append(("size_bytes", f"must be left out, got {description.size_bytes}"))
    found += [
        (f"fields[{index}].at_bit", f"must be left out, got {field.at_bit}")
        for index, field in enumerate(description.fields)
        if field.at_bit is not None
    ]
    return found


def _of_field(field: FieldDescription) -> list[Problem]:
    """Problems of one field as (key, text)."""
    found: list[Problem] = []
    if not (field.name.isascii() and field.name.isidentifier()):
        found.append(
            (
                "name",
                "must be letters, digits and underscores and not begin with a digit, "
                f"got '{field.name}'",
            )
        )
    wire_type = WIRE_TYPES.get(field.type)
    if wire_type is None:
        found.append(("type", f"must be one of {', '.join(WIRE_TYPES)}, got '{field.type}'"))
        return found
    of_numbers = _of_numbers(field)
    of_bits = _of_bits(field, wire_type)
    found += of_numbers + of_bits
    if not of_numbers and not of_bits:
        found += _of_range(field, wire_type)
    return found


def _of_numbers(field: FieldDescription) -> list[Problem]:
    """Numbers that are no use on their own."""
    found = [
        (key, f"must be a finite number, got {number}")
        for key in ("scale", "neutral", "min", "max")
        if (number := getattr(field, key)) is not None and not math.isfinite(number)
    ]
    if abs(field.scale) < LEAST_SCALE:
        found.append(
            ("scale", f"must be a number of {LEAST_SCALE:g} or more in size, got {field.scale:g}")
        )
    return found


def _of_bits(field: FieldDescription, wire_type: WireType) -> list[Problem]:
    """Bit fields that cannot be."""
    if field.bits is None:
        return []
    if wire_type.kind == "float":
        return [("bits", f"must be left out of a field of type {field.type}, got {field.bits}")]
    if not 1 <= field.bits <= wire_type.bits:
        return [("bits", f"must be 1 to {wire_type.bits} for {field.type}, got {field.bits}")]
    return []


def _of_range(field: FieldDescription, wire_type: WireType) -> list[Problem]:
    """Ends that the wire cannot carry, or that leave nothing between them."""
    lowest, highest = value_range(field, wire_type)
    found: list[Problem] = []
    for end in ("min", "max"):
        value = getattr(field, end)
        if value is not None and not _is_carried(value, field, wire_type):
            found.append(
                (
                    end,
                    f"must be {lowest:g} to {highest:g}, which is what "
                    f"{KINDS_IN_WORDS[wire_type.kind]} field of {field.bits or wire_type.bits} "
                    f"bits carries at this scale, got {value:g}",
                )
            )
    low = lowest if field.min is None else field.min
    high = highest if field.max is None else field.max
    if not found and low >= high:
        end, rule, value = ("max", f"> {low:g}", high) if field.min is None else ("min", "", low)
        found.append((end, f"must be {rule or f'< {high:g}'}, got {value:g}"))
    return found


def _is_carried(value: float, field: FieldDescription, wire_type: WireType) -> bool:
    """Does the wire have a number for this value?"""
    low, high = wire_range(wire_type.kind, field.bits or wire_type.bits)
    if wire_type.kind == "float":
        return low <= _exact(value, field, field.offset) <= high
    steps = _exact(value, field, 0)
    return math.isfinite(steps) and low <= round_half_away(steps) + field.offset <= high


def _exact(value: float, field: FieldDescription, offset: int) -> float:
    return exact_wire(value, scale=field.scale, neutral=field.neutral, offset=offset)


def value_range(field: FieldDescription, wire_type: WireType) -> tuple[float, float]:
    """Lowest and highest value that the wire can carry, in the field's own unit."""
    _, largest = wire_range("float", 64)
    ends = [
        (raw - field.offset) * field.scale + field.neutral
        for raw in wire_range(wire_type.kind, field.bits or wire_type.bits)
    ]
    return max(min(ends), -largest), min(max(ends), largest)
