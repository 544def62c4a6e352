"""What a scenario says about a layout, as written in its file."""

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from radiosim.described import FIELD_UNIT, key

TypeName = Literal["u8", "u16", "u32", "u64", "i8", "i16", "i32", "i64", "f32", "f64"]


_Scale = Annotated[
    float,
    key(
        "what one step on the wire stands for; below 0 turns the direction round",
        "the field's own per step",
        moves=("output.servo_error_deg",),
        measure="the arithmetic in the firmware between stick and field",
    ),
]
_Neutral = Annotated[
    float,
    key(
        "the value of a control at rest, sent as the bare offset",
        FIELD_UNIT,
        moves=("faults.recovered_ms",),
        measure="let go of the stick and print the value",
    ),
]
_Offset = Annotated[
    int,
    key(
        "the number on the wire at neutral, such as 127 for a centred byte",
        "steps",
        moves=(),
        measure="let go of the stick and print the raw number that is sent",
    ),
]
_Min = Annotated[
    float | None,
    key(
        "lowest value the control can have; left out: the lowest the wire carries",
        FIELD_UNIT,
        moves=("output.servo_error_deg",),
        measure="move the stick to its stop and print the value",
    ),
]
_Max = Annotated[
    float | None,
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
        Annotated[int, Meta(ge=0)] | None,
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
        Annotated[int, Meta(ge=1)] | None,
        key(
            "bytes of the whole struct; filled in when a header is read",
            "bytes",
            moves=("stream.duty_cycle",),
            measure="print sizeof of the struct on the board",
        ),
    ] = None
