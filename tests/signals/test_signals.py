"""Laws that hold for every kind of signal, and what each kind does."""

import math
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim import signals
from radiosim.signals import (
    Constant,
    Counter,
    Csv,
    LookAround,
    Signal,
    Sine,
    Span,
    Steps,
)

STICK = Span(minimum=-1.0, maximum=1.0, neutral=0.0, steps=2001, scale=0.001)
BYTE = Span(minimum=0.0, maximum=255.0, neutral=0.0, steps=256, scale=1.0)
FLOAT = Span(minimum=-3.4e38, maximum=3.4e38, neutral=0.0, steps=0, scale=1.0)

SECONDS = st.floats(0, 1e6)
FRAMES = st.integers(0, 10**9)
SHORT_S = st.floats(0.01, 100)
VALUES = st.floats(-1, 1)
MAYBE = st.none() | VALUES
SIZE = st.none() | st.floats(0, 1)


@st.composite
def spans(draw: st.DrawFn) -> Span:
    minimum = draw(st.floats(-1000, 1000))
    scale = draw(st.sampled_from([1.0, 0.001, 0.1, -0.008, 1 / 32767]))
    steps = draw(st.integers(2, 70_000))
    maximum = minimum + (steps - 1) * abs(scale)
    neutral = draw(st.floats(-2000, 2000))
    return Span(minimum=minimum, maximum=maximum, neutral=neutral, steps=steps, scale=scale)


@st.composite
def tables(draw: st.DrawFn) -> Csv:
    times = sorted(draw(st.sets(st.floats(0, 1000), min_size=1, max_size=6)))
    points = tuple((time, draw(VALUES)) for time in times)
    return Csv(file="a.csv", loop=draw(st.booleans()), points=points)


def any_signal() -> st.SearchStrategy[Signal]:
    phases = st.floats(-720, 720)
    values = st.none() | st.lists(VALUES, min_size=1, max_size=5).map(tuple)
    return st.one_of(
        st.builds(Constant, value=MAYBE),
        st.builds(Sine, period_s=SHORT_S, amplitude=SIZE, mean=MAYBE, phase_deg=phases),
        st.builds(Steps, values=values, hold_s=SHORT_S),
        tables(),
        st.builds(LookAround, amplitude=SIZE, sweep_s=SHORT_S, rest_s=st.floats(0, 10)),
        st.builds(Counter),
    )


DEFAULTS = st.sampled_from([Constant(), Sine(), Steps(), LookAround(), Counter()])


@given(any_signal(), spans(), SECONDS, FRAMES)
def test_a_value_lies_within_the_extremes(
    signal: Signal, span: Span, seconds: float, frame: int
) -> None:
    low, high = signal.extremes(span)

    assert low <= signal.value_at(seconds, frame, span) <= high


@given(DEFAULTS, spans())
def test_a_signal_left_at_its_defaults_fits_every_field(signal: Signal, span: Span) -> None:
    low, high = signal.extremes(span)

    assert span.minimum <= low <= high <= span.maximum


@given(any_signal(), SECONDS, FRAMES)
def test_a_value_depends_on_nothing_but_its_instant(
    signal: Signal, seconds: float, frame: int
) -> None:
    first = signal.value_at(seconds, frame, STICK)
    signal.value_at(seconds + 1, frame + 1, STICK)

    assert signal.value_at(seconds, frame, STICK) == first


@given(any_signal())
def test_a_signal_survives_being_saved(signal: Signal) -> None:
    decoded: Any = msgspec.json.decode(msgspec.json.encode(signal), type=Signal)

    assert decoded == signal


@pytest.mark.parametrize("kind", ["constant", "sine", "steps", "csv", "lookaround", "counter"])
def test_a_signal_is_told_by_its_kind(kind: str) -> None:
    keys = {"kind": kind, "every_ms": 20} | ({"file": "a.csv"} if kind == "csv" else {})

    signal: Any = msgspec.convert(keys, Signal)

    assert signal.every_ms == 20.0
    assert signal.__struct_config__.tag == kind


def test_every_key_says_what_it_means() -> None:
    _, components = msgspec.json.schema_components([Signal])

    for name, component in components.items():
        for key, schema in component["properties"].items():
            assert key == "kind" or schema.get("description"), (name, key)


def test_exported_names_are_sorted_and_exist() -> None:
    assert signals.__all__ == sorted(signals.__all__)
    assert all(hasattr(signals, name) for name in signals.__all__)


@pytest.mark.parametrize(("neutral", "value"), [(0.3, 0.3), (5.0, 1.0), (-5.0, -1.0)])
def test_an_untouched_control_is_at_neutral_inside_its_range(neutral: float, value: float) -> None:
    span = Span(minimum=-1.0, maximum=1.0, neutral=neutral, steps=2001, scale=0.001)

    assert Constant().value_at(7.0, 3, span) == value


def test_a_constant_keeps_its_value() -> None:
    assert Constant(value=0.25).value_at(7.0, 3, STICK) == 0.25
    assert Constant(value=2.5).extremes(STICK) == (2.5, 2.5)


@pytest.mark.parametrize(
    ("seconds", "value"), [(0.0, 0.0), (1.0, 0.6), (2.0, 0.0), (3.0, -0.6), (4.5, 0.424264)]
)
def test_a_sine_swings_about_its_mean(seconds: float, value: float) -> None:
    assert Sine(amplitude=0.6).value_at(seconds, 0, STICK) == pytest.approx(value, abs=1e-6)


def test_a_sine_begins_at_its_phase() -> None:
    assert Sine(phase_deg=90).value_at(0.0, 0, STICK) == 1.0
    assert Sine(phase_deg=-90).value_at(0.0, 0, BYTE) == 0.0


def test_a_sine_left_alone_reaches_the_nearer_end_about_its_mean() -> None:
    assert Sine().extremes(BYTE) == (0.0, 255.0)
    assert Sine(mean=0.5).extremes(STICK) == (0.0, 1.0)


def test_a_sine_that_leaves_its_field_says_so_in_its_extremes() -> None:
    assert Sine(amplitude=0.75, mean=0.5).extremes(STICK) == (-0.25, 1.25)
    assert Sine(mean=3.0).extremes(STICK) == (3.0, 3.0)


@given(st.integers(0, 1000), st.integers(0, 39))
def test_a_sine_repeats_after_its_period(turns: int, tenth: int) -> None:
    sine = Sine(period_s=4.0)

    again = sine.value_at(4.0 * turns + tenth / 10, 0, STICK)
    assert again == pytest.approx(sine.value_at(tenth / 10, 0, STICK), abs=1e-9)


def test_steps_hold_each_value_in_turn() -> None:
    steps = Steps(values=(0.0, 0.5, -0.5), hold_s=0.1)

    values = [steps.value_at(tenth / 10, 0, STICK) for tenth in range(7)]

    assert values == [0.0, 0.5, -0.5, 0.0, 0.5, -0.5, 0.0]
    assert steps.value_at(0.0999, 0, STICK) == 0.0
    assert steps.extremes(STICK) == (-0.5, 0.5)


def test_steps_left_alone_go_between_the_ends() -> None:
    assert [Steps().value_at(s, 0, STICK) for s in (0.0, 1.0, 2.0)] == [-1.0, 1.0, -1.0]


@pytest.mark.parametrize(
    ("seconds", "value"),
    [
        (0.0, 0.0),  # half way through a turn to the left
        (1.5, -1.0),
        (2.4, -1.0),  # rests until 2.5
        (4.0, 0.0),
        (5.5, 1.0),
        (6.4, 1.0),
        (8.0, 0.0),
        (0.75, -math.sqrt(0.5)),
    ],
)
def test_a_head_looks_left_rests_looks_right_rests(seconds: float, value: float) -> None:
    assert LookAround().value_at(seconds, 0, STICK) == pytest.approx(value, abs=1e-12)


@given(SECONDS, st.floats(0, 0.01))
def test_a_head_never_jumps(seconds: float, later: float) -> None:
    # A raised cosine of height 2 over 3 s turns at most at π/3 a second.
    head = LookAround()

    moved = abs(head.value_at(seconds + later, 0, STICK) - head.value_at(seconds, 0, STICK))

    assert moved <= math.pi / 3 * later + 1e-6


def test_a_counter_counts_frames_and_wraps() -> None:
    values = [Counter().value_at(0.0, frame, BYTE) for frame in (0, 1, 255, 256, 257)]

    assert values == [0.0, 1.0, 255.0, 0.0, 1.0]


@given(st.integers(0, 10**12))
def test_a_counter_goes_up_by_one_on_the_wire(frame: int) -> None:
    signed = Span(minimum=-128.0, maximum=127.0, neutral=0.0, steps=256, scale=1.0)
    turned = Span(minimum=-2.55, maximum=0.0, neutral=0.0, steps=256, scale=-0.01)

    assert Counter().value_at(0.0, frame, signed) == frame % 256 - 128
    assert round(Counter().value_at(0.0, frame, turned) / -0.01) == frame % 256


def test_a_counter_fits_no_field_that_cannot_count() -> None:
    wide = Span(minimum=-(2.0**63), maximum=2.0**63, neutral=0.0, steps=2**64, scale=1.0)

    for span in (FLOAT, wide):
        assert Counter().extremes(span) == (-math.inf, math.inf)
        with pytest.raises(ValueError, match="a counter must feed a field of whole numbers"):
            Counter().value_at(0.0, 0, span)


def test_signals_stay_finite_on_the_widest_field() -> None:
    top = 1.7976931348623157e308
    widest = Span(minimum=-top, maximum=top, neutral=0.0, steps=0, scale=1.0)

    for signal in (Constant(), Sine(), Steps(), LookAround()):
        assert math.isfinite(signal.value_at(0.9, 0, widest))
