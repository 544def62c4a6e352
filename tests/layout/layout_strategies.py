"""Random layouts and frames for them."""

from hypothesis import assume
from hypothesis import strategies as st

from radiosim.errors import LayoutError
from radiosim.layout import Field, FieldDescription, Layout, LayoutDescription, lay_out
from radiosim.layout.field import WIRE_TYPES

TYPE_NAMES = sorted(WIRE_TYPES)


@st.composite
def field_descriptions(draw: st.DrawFn, name: str) -> FieldDescription:
    type_name = draw(st.sampled_from(TYPE_NAMES))
    wire_type = WIRE_TYPES[type_name]
    bits = None
    if wire_type.kind != "float":
        bits = draw(st.none() | st.integers(1, wire_type.bits))
    return FieldDescription(name=name, type=type_name, bits=bits)  # type: ignore[arg-type]


@st.composite
def layouts(draw: st.DrawFn) -> Layout:
    count = draw(st.integers(1, 8))
    description = LayoutDescription(
        byte_order=draw(st.sampled_from(["little", "big"])),
        packed=draw(st.booleans()),
        fields=tuple(draw(field_descriptions(f"f{index}")) for index in range(count)),
    )
    try:
        return lay_out("random", description)
    except LayoutError:
        assume(False)
        raise


def wires_of(field: Field) -> st.SearchStrategy[int | float]:
    """Numbers that the field can hold."""
    if field.kind == "float":
        return st.floats(
            width=32 if field.bits == 32 else 64, allow_nan=False, allow_infinity=False
        )
    low, high = field.raw_range
    return st.integers(int(low), int(high))


@st.composite
def layouts_with_wires(draw: st.DrawFn) -> tuple[Layout, tuple[int | float, ...]]:
    layout = draw(layouts())
    return layout, tuple(draw(wires_of(field)) for field in layout.fields)
