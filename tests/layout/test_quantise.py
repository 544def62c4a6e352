"""Quantised in plain numbers, a value is what the wire makes of it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.layout import Field, FieldDescription, LayoutDescription, lay_out
from radiosim.layout.quantise import EXACT_BITS, quantised, wire_of


def field_of(**described: object) -> Field:
    description = FieldDescription(name="x", **described)  # type: ignore[arg-type]
    return lay_out("one", LayoutDescription(fields=(description,))).fields[0]


scales = st.sampled_from([1.0, 0.001, 0.008, -0.1, 1 / 3])
fields = st.one_of(
    st.builds(
        lambda kind, scale, neutral, offset: field_of(
            type=kind, scale=scale, neutral=neutral, offset=offset
        ),
        st.sampled_from(["u8", "i8", "u16", "i16", "i32", "u64", "i64"]),
        scales,
        st.sampled_from([0.0, 0.25, -3.7]),
        st.integers(-5, 127),
    ),
    st.builds(
        lambda kind, scale: field_of(type=kind, scale=scale, min=-1.0, max=1.0),
        st.sampled_from(["f32", "f64"]),
        scales,
    ),
)


@given(fields, st.lists(st.floats(0, 1), max_size=20), st.lists(st.integers(0, 40), max_size=20))
def test_a_value_is_quantised_to_the_last_bit_as_on_the_wire(
    field: Field, shares: list[float], halves: list[int]
) -> None:
    width = field.maximum - field.minimum
    spread = [min(field.minimum + share * width, field.maximum) for share in shares]
    # Halves of a step, where rounding is decided.
    ties = [field.neutral + field.scale * half / 2 for half in halves]
    values = [v for v in spread + ties if field.minimum <= v <= field.maximum]

    expected = [field.to_value(field.to_wire(value)) for value in values]

    found = [quantised(value, *wire_of(field)) for value in values]
    if field.kind != "float" and field.bits > EXACT_BITS:
        assert found == pytest.approx(expected, rel=1e-14, abs=1e-14)
    else:
        assert found == expected
