"""A straight line in whole numbers of 32 bits is the output's own, but for what rounding takes."""

from fractions import Fraction

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from radiosim.firmware.fixed_point import line_of
from radiosim.scenario import Scenario, parse
from tests.examples import examples

TYPES = {"u8": (0, 255), "i8": (-128, 127), "i16": (-32_768, 32_767), "u16": (0, 65_535)}


def scenario_of(kind: str, scale: float, weight: float, pulse_us: tuple[int, int]) -> Scenario:
    """One output of two fields, of which the second is a byte."""
    low, high = (scale * end for end in TYPES[kind])
    return parse(
        f"""
radio.profile = "gfsk-1M"
layout.two.fields = [
    {{ name = "much", type = "{kind}", scale = {scale!r}, min = {low!r}, max = {high!r} }},
    {{ name = "more", type = "i8", scale = 0.5, min = -60.0, max = 60.0 }},
]
transmitter.drive = {{ period_ms = 20, layout = "two" }}
output.motor = {{ stream = "drive", mix = {{ much = {weight!r}, more = 1.0 }}, \
value = [-50.0, 50.0], pulse_us = [{pulse_us[0]}, {pulse_us[1]}], limit_us = [1100, 1900], \
on_failsafe = "off" }}
"""
    )


@given(
    st.sampled_from(list(TYPES)),
    st.sampled_from([0.001, 0.003, 0.01, 0.1, 0.37, 1.0]),
    st.sampled_from([-1.0, -0.3, 0.5, 1.0]),
    st.sampled_from([(1000, 2000), (2000, 1000), (800, 2200)]),
    st.tuples(st.floats(0, 1), st.floats(0, 1)),
)
@examples(200)
@example("i16", 0.1, 1.0, (1000, 2000), (0.5, 0.5))
@example("u8", 0.37, -0.3, (2000, 1000), (1.0, 0.0))
def test_a_line_is_the_output_and_fits_in_32_bits(
    kind: str,
    scale: float,
    weight: float,
    pulse_us: tuple[int, int],
    at: tuple[float, float],
) -> None:
    scenario = scenario_of(kind, scale, weight, pulse_us)
    output, layout = scenario.output["motor"], scenario.layout_of("drive")
    fields = [layout.fields[layout.index_of(name)] for name in output.mix]
    line = line_of(fields, tuple(output.mix.values()), output)
    assume(line is not None)
    assert line is not None
    ranges = [field.raw_range for field in fields]
    raw = [round(low + part * (high - low)) for (low, high), part in zip(ranges, at, strict=True)]

    products = [factor * number for factor, number in zip(line.factors, raw, strict=True)]
    # Each sum on the way, in the order in which C adds them.
    partial = [line.constant, line.constant + products[0], line.constant + sum(products)]
    assert all(abs(number) < 1 << 31 for number in (*products, *partial, line.least, line.most))

    value = sum(
        Fraction(weight_of) * ((number - field.offset) * Fraction(field.scale))
        + Fraction(weight_of) * Fraction(field.neutral)
        for field, weight_of, number in zip(fields, output.mix.values(), raw, strict=True)
    )
    inside = min(max(value, Fraction(-50)), Fraction(50))
    first, last = map(Fraction, pulse_us)
    exact = min(max(first + (inside + 50) / 100 * (last - first), Fraction(1100)), Fraction(1900))
    written = min(max(partial[-1], line.least), line.most) >> line.shift
    assert abs(written - exact) <= Fraction(3, 4)


@pytest.mark.parametrize(
    ("kind", "scale", "shift"), [("i16", 0.001, 16), ("i16", 0.1, 8), ("u16", 100.0, None)]
)
def test_the_finest_parts_are_taken_that_32_bits_hold(
    kind: str, scale: float, shift: int | None
) -> None:
    scenario = scenario_of(kind, scale, 1.0, (1000, 2000))
    output, layout = scenario.output["motor"], scenario.layout_of("drive")
    line = line_of(layout.fields, (1.0, 1.0), output)
    assert (None if line is None else line.shift) == shift
