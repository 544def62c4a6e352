"""Many values at once come to what each comes to alone."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.errors import LayoutError
from radiosim.layout import Field, FieldDescription, LayoutDescription, lay_out
from radiosim.layout.quantise import quantised


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
def test_many_values_are_quantised_to_the_last_bit_as_one_is(
    field: Field, shares: list[float], halves: list[int]
) -> None:
    width = field.maximum - field.minimum
    spread = [min(field.minimum + share * width, field.maximum) for share in shares]
    # Halves of a step, where rounding is decided.
    ties = [field.neutral + field.scale * half / 2 for half in halves]
    values = [v for v in spread + ties if field.minimum <= v <= field.maximum]

    expected = [field.to_value(field.to_wire(value)) for value in values]

    assert quantised(field, np.array(values, np.float64)).tolist() == expected


def test_a_value_outside_is_refused_as_one_is() -> None:
    with pytest.raises(LayoutError, match="must be 0 to 255, got 300"):
        quantised(field_of(type="u8"), np.array([1.0, 300.0]))
