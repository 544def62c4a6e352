"""What a scene says about a layout, as written in its file."""

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

TypeName = Literal["u8", "u16", "u32", "u64", "i8", "i16", "i32", "i64", "f32", "f64"]

FIELD_UNIT = {"unit": "the field's own"}


class FieldDescription(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """One value of a frame; on the wire (value − neutral) / scale + offset, in whole steps."""

    name: Annotated[
        str,
        Meta(description="What signals, outputs and results call this value: one plain word"),
    ]
    type: Annotated[
        TypeName,
        Meta(description="How it travels: u unsigned, i signed, f floating point, then the bits"),
    ]
    scale: Annotated[
        float,
        Meta(
            description="What one step on the wire stands for; below 0 turns the direction round",
            extra_json_schema={"unit": "the field's own per step"},
        ),
    ] = 1.0
    neutral: Annotated[
        float,
        Meta(
            description="The value of a control at rest, sent as the bare offset",
            extra_json_schema=FIELD_UNIT,
        ),
    ] = 0.0
    offset: Annotated[
        int,
        Meta(
            description="The number on the wire at neutral, such as 127 for a centred byte",
            extra_json_schema={"unit": "steps"},
        ),
    ] = 0
    min: Annotated[
        float | None,
        Meta(
            description="Lowest value the control can have; left out: the lowest the wire carries",
            extra_json_schema=FIELD_UNIT,
        ),
    ] = None
    max: Annotated[
        float | None,
        Meta(
            description="Highest value the control can have; left out: the highest on the wire",
            extra_json_schema=FIELD_UNIT,
        ),
    ] = None
    bits: Annotated[
        Annotated[int, Meta(ge=1, le=64)] | None,
        Meta(
            description=(
                "Makes it a bit field this wide; neighbouring bit fields of one type share its "
                "bytes, lowest bit first. Left out: the whole type"
            ),
            extra_json_schema={"unit": "bits"},
        ),
    ] = None


class LayoutDescription(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """A frame's layout: its fields in order, or the C struct that has them."""

    byte_order: Annotated[
        Literal["little", "big"],
        Meta(description="Which byte of a number goes first: little = the lowest, as most boards"),
    ] = "little"
    packed: Annotated[
        bool,
        Meta(
            description=(
                "true: no gaps between fields; false: each is aligned to its own size, as a "
                "32-bit compiler does with a plain struct"
            )
        ),
    ] = True
    fields: Annotated[
        tuple[FieldDescription, ...],
        Meta(description="The values of the frame, in the order in which they are sent"),
    ] = ()
    header: Annotated[
        str, Meta(description="C header file that holds the struct, instead of fields")
    ] = ""
    struct: Annotated[str, Meta(description="Name of the struct in the header")] = ""
    abi: Annotated[
        str,
        Meta(
            description=(
                "Compiler target whose sizes and gaps apply: avr, arm, xtensa, riscv32 or host"
            )
        ),
    ] = ""
