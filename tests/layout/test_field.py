"""Values to numbers on the wire and back."""

import math
import struct
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from radiosim.errors import LayoutError
from radiosim.layout import Field, FieldDescription, LayoutDescription, lay_out
from radiosim.layout.field import EXACT_BITS, round_half_away, wire_number, wire_of


def field(**keys: Any) -> Field:
    description = FieldDescription(**({"name": "x", "type": "u8"} | keys))
    return lay_out("drive", LayoutDescription(fields=(description,))).fields[0]


@st.composite
def whole_number_fields(draw: st.DrawFn) -> Field:
    type_name = draw(st.sampled_from(["u8", "i8", "u16", "i16", "u32", "i32"]))
    return field(
        type=type_name,
        scale=draw(st.sampled_from([1.0, 0.001, 0.008, -0.1, 1 / 32767, 3.0, -250.0])),
        neutral=draw(st.sampled_from([0.0, 1500.0, -0.3])),
        offset=draw(st.integers(-300, 300)),
        bits=draw(st.none() | st.integers(1, int(type_name[1:]))),
    )


@given(whole_number_fields(), st.data())
def test_every_number_on_the_wire_comes_back(field: Field, data: st.DataObject) -> None:
    wire = data.draw(st.integers(*map(int, field.raw_range)))

    assert field.to_wire(field.to_value(wire)) == wire


@given(whole_number_fields(), st.floats(0, 1))
def test_a_value_moves_by_half_a_step_at_most(field: Field, share: float) -> None:
    value = field.minimum * (1 - share) + field.maximum * share

    moved = abs(field.to_value(field.to_wire(value)) - value)

    assert moved <= 0.5 * field.resolution * (1 + 1e-4)


@given(whole_number_fields(), st.floats(1e-3, 1e6))
def test_a_value_outside_the_range_is_never_truncated(field: Field, steps: float) -> None:
    for value in (
        field.maximum + steps * field.resolution,
        field.minimum - steps * field.resolution,
    ):
        with pytest.raises(LayoutError, match=r"layout\.drive\.x: must be .* to .*, got"):
            field.to_wire(value)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_value_that_is_not_finite_is_refused(value: float) -> None:
    with pytest.raises(LayoutError, match=rf"^layout\.drive\.x: must be 0 to 255, got {value}$"):
        field().to_wire(value)


def test_the_range_is_the_one_given_not_the_one_the_wire_could_carry() -> None:
    with pytest.raises(LayoutError, match=r"^layout\.drive\.x: must be -1 to 1, got 1\.001$"):
        field(type="i16", scale=0.001, min=-1.0, max=1.0).to_wire(1.001)


@pytest.mark.parametrize(
    ("value", "wire"), [(0.5, 1), (-0.5, -1), (1.5, 2), (2.5, 3), (0.49999999999999994, 0)]
)
def test_halves_go_away_from_zero(value: float, wire: int) -> None:
    assert field(type="i8").to_wire(value) == wire
    assert round_half_away(value) == wire


def test_halves_are_judged_from_neutral() -> None:
    centred = field(scale=0.5, offset=127)

    assert centred.to_wire(0.25) - 127 == 127 - centred.to_wire(-0.25) == 1


def test_rounding_refuses_what_is_not_finite() -> None:
    with pytest.raises(ValueError, match="only a finite number can be rounded, got inf"):
        round_half_away(math.inf)


@given(st.floats(-1e30, 1e30))
def test_f32_rounds_to_the_nearest_single(value: float) -> None:
    assert field(type="f32").to_wire(value) == struct.unpack("f", struct.pack("f", value))[0]


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_f64_carries_any_value_unchanged(value: float) -> None:
    assert field(type="f64").to_wire(value) == value


@pytest.mark.parametrize("type_name", ["u64", "i64", "f32", "f64"])
@pytest.mark.parametrize("scale", [1.0, 0.001, -0.1, 3.0])
def test_the_ends_of_wide_fields_fit(type_name: str, scale: float) -> None:
    wide = field(type=type_name, scale=scale)
    low, high = wide.raw_range

    ends = sorted((wide.to_wire(wide.minimum), wide.to_wire(wide.maximum)))
    assert low <= ends[0] < ends[1] <= high


def test_a_negative_scale_turns_the_direction_round() -> None:
    turned = field(scale=-0.01)

    assert (turned.minimum, turned.maximum) == pytest.approx((-2.55, 0.0))
    assert turned.to_wire(-2.55) == 255


@pytest.mark.parametrize(
    ("keys", "steps", "resolution"),
    [
        ({}, 256, 1.0),
        ({"bits": 1}, 2, 1.0),
        ({"type": "i16", "scale": 0.001, "min": -1.0, "max": 1.0}, 2001, 0.001),
        ({"scale": -0.01}, 256, 0.01),
        ({"type": "u64"}, 2**64, 1.0),
        ({"type": "f32"}, 0, 0.0),
    ],
)
def test_steps_and_resolution_are_those_of_the_wire(
    keys: dict[str, Any], steps: int, resolution: float
) -> None:
    assert (field(**keys).steps, field(**keys).resolution) == (steps, resolution)


@given(st.floats(-1, 1), st.floats(-1, 1))
def test_order_survives_the_wire(one: float, other: float) -> None:
    assume(one <= other)
    throttle = field(type="i16", scale=0.001, min=-1.0, max=1.0)

    assert throttle.to_wire(one) <= throttle.to_wire(other)


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
def test_the_number_of_a_value_is_to_the_last_bit_that_on_the_wire(
    field: Field, shares: list[float], halves: list[int]
) -> None:
    width = field.maximum - field.minimum
    spread = [min(field.minimum + share * width, field.maximum) for share in shares]
    # Halves of a step, where rounding is decided.
    ties = [field.neutral + field.scale * half / 2 for half in halves]
    values = [v for v in spread + ties if field.minimum <= v <= field.maximum]

    expected = [field.to_wire(value) for value in values]

    found = [wire_number(value, *wire_of(field)) for value in values]
    if field.kind != "float" and field.bits > EXACT_BITS:
        assert found == pytest.approx(expected, rel=1e-14, abs=1e-14)
    else:
        assert found == expected
