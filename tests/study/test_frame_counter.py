"""A counter comes where nothing is, or in a byte more, and a frame that has no room is said to be
full."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from radiosim.errors import ScenarioError
from radiosim.layout.field import is_spare
from radiosim.scenario import Scenario, parse
from radiosim.scenario.changed import changed
from radiosim.signals import Counter
from radiosim.study.frame_counter import counter_lines, how_to_count, stand_in
from tests.examples import examples

TYPES = {"u8": 1, "i16": 2, "u32": 4, "f32": 4, "i64": 8}
NAMES = ("throttle", "mode", "spare", "aux", "pad_2", "lamp", "version", "reserved")


@st.composite
def frames(draw: st.DrawFn) -> Scenario:
    """A scenario of two streams, with one layout or frames of plain bytes; lengths may be fixed."""
    types = draw(st.lists(st.sampled_from(sorted(TYPES)), min_size=1, max_size=8))
    names = draw(st.permutations(NAMES))
    fields = ", ".join(
        f"{{ name = '{name}', type = '{kind}' }}" for name, kind in zip(names, types, strict=False)
    )
    frame = draw(st.sampled_from(["layout = 'one'", f"payload_bytes = {draw(st.integers(1, 32))}"]))
    fixed = draw(st.sampled_from(["'own'", draw(st.integers(1, 32))]))
    text = f"""
duration_s = 5
radio = {{ profile = "gfsk-1M", payload_length = {fixed} }}
layout.one.fields = [{fields}]
transmitter.drive = {{ period_ms = 20, {frame} }}
transmitter.head = {{ period_ms = 23, layout = "one" }}
failsafe.drive.timeout_ms = 250
"""
    try:
        return parse(text)
    except ScenarioError:
        assume(False)
        raise


@given(frames())
@examples(60)
def test_the_lines_make_a_counter_where_nothing_was(scenario: Scenario) -> None:
    for stream in scenario.transmitter:
        lines, name = counter_lines(scenario, stream)
        layout = scenario.layout_of(stream)
        if not name:
            assert not lines
            assert layout.size_bytes == 32
            assert "32 of 32 bytes" in how_to_count(scenario, stream)
            continue
        cured = changed(scenario, lines)
        before = {field.name for field in layout.fields}
        assert isinstance(cured.transmitter[stream].signals[name], Counter)
        if name in before and scenario.transmitter[stream].payload_bytes is None:
            assert is_spare(name)
        else:
            assert cured.layout_of(stream).size_bytes > layout.size_bytes
        assert counter_lines(cured, stream) == ((), name)


@given(frames())
@examples(60)
def test_the_field_that_stands_in_changes_with_every_frame(scenario: Scenario) -> None:
    lines, name = stand_in(scenario, "drive")
    tried = changed(scenario, (*lines, f"failsafe.drive.watch_field={name}")) if name else scenario

    others = {field.name for field in scenario.layout_of("drive").fields} - {"version"}
    assert bool(name) == bool(others)
    assert tried.layout_of("drive") == scenario.layout_of("drive")
    assert (
        not name
        or tried.transmitter["drive"].signals[name] != (scenario.transmitter["drive"].signals[name])
    )


FIXED = """
duration_s = 5
radio = { profile = "gfsk-1M", payload_length = LENGTH }
layout.one.fields = [{ name = "throttle", type = "i16" }]
transmitter.drive = { period_ms = 20, layout = "one", payload_length = OWN }
transmitter.head = { period_ms = 23, layout = "one" }
"""


@pytest.mark.parametrize(
    ("length", "own", "grown"),
    [
        ("2", "'link'", ("radio.payload_length=3",)),
        ("2", "2", ("radio.payload_length=3", "transmitter.drive.payload_length=3")),
        ("32", "'link'", ()),
        ("'own'", "'link'", ()),
    ],
)
def test_a_fixed_length_grows_with_the_frames_of_all_who_share_a_layout(
    length: str, own: str, grown: tuple[str, ...]
) -> None:
    scenario = parse(FIXED.replace("LENGTH", length).replace("OWN", own))
    lines, name = counter_lines(scenario, "drive")

    assert tuple(line for line in lines if "payload_length" in line) == grown
    cured = changed(scenario, lines)
    assert all(isinstance(unit.signals[name], Counter) for unit in cured.transmitter.values())


LOOKED_AT = {
    "output": 'output.lamp = { stream = "drive", field = "spare", kind = "pin" }',
    "timer": 'failsafe.drive = { timeout_ms = 250, watch_field = "spare" }',
    "end of failsafe": "failsafe.drive = "
    '{ timeout_ms = 250, resume_needs = { field = "spare", within = 1 } }',
}


@pytest.mark.parametrize("looks", ["", *LOOKED_AT])
def test_a_spare_that_something_looks_at_is_not_free(looks: str) -> None:
    given = parse(f"""
radio.profile = "gfsk-1M"
layout.one.fields = [{{ name = "throttle", type = "i16" }}, {{ name = "spare", type = "u8" }}]
transmitter.drive = {{ period_ms = 20, layout = "one" }}
output.wheel = {{ stream = "drive", field = "throttle" }}
{LOOKED_AT.get(looks, "")}
""")

    assert (counter_lines(given, "drive")[1] == "spare") == (not looks)
