"""Another layout on the same draws."""

import re
from collections.abc import Collection, Iterable, Sequence
from itertools import groupby

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.errors import ScenarioError
from radiosim.scenario import parse
from radiosim.scenario.changed import streams_with, with_layout
from radiosim.scenario.named_layout import NamedLayout
from radiosim.study.layout_change import FrameTime, changes_of, layout_change
from tests.examples import examples

SCENARIO = """
seed = 2
duration_s = 4
starts = 6
radio.profile = "gfsk-1M"
[layout.small]
fields = [{ name = "throttle", type = "i8", scale = 0.01, min = -1.0, max = 1.0 }]
[layout.large]
fields = [
  { name = "throttle", type = "i8", scale = 0.01, min = -1.0, max = 1.0 },
  { name = "log", type = "f64" },
]
[layout.other]
fields = [{ name = "speed", type = "i8", scale = 0.01, min = -1.0, max = 1.0 }]
[transmitter.drive]
layout = "small"
period_ms = 20
signals.throttle = { kind = "sine", period_s = 2 }
[transmitter.head]
payload_bytes = 4
period_ms = 20
[failsafe.drive]
timeout_ms = 200
[output.motor]
stream = "drive"
field = "throttle"
on_failsafe = { preset_us = 1500 }
"""
OLD = parse(SCENARIO)


def named(name: str) -> NamedLayout:
    layout = parse(SCENARIO.replace('layout = "small"', f'layout = "{name}"')).layouts()[name]
    return NamedLayout(label=name, layout=layout, abi=None, targets={}, scenario=OLD)


def test_a_layout_is_found_in_the_streams_that_have_it() -> None:
    assert streams_with(OLD, named("small")) == ("drive",)
    assert streams_with(OLD, named("large")) == ()


def test_a_layout_for_itself_changes_nothing() -> None:
    same, notes = with_layout(OLD, ["drive"], named("small"), "small")

    found = layout_change(OLD, same, ("drive",), workers=1)
    assert notes == ()
    assert {change.difference for change in found.figures.values()} == {0.0}
    assert found.frame_us["drive"] == FrameTime(old=81.0, new=81.0)


def test_a_longer_frame_is_longer_on_the_air_by_its_bits_and_delays_by_as_much() -> None:
    new, notes = with_layout(OLD, ["drive"], named("large"), "small")
    found = layout_change(OLD, new, ("drive",), workers=2)

    assert found.frame_us["drive"] == FrameTime(old=81.0, new=81.0 + 64)
    assert notes == ("drive: log is new, and rests all the time",)
    on_air = found.figures["stream.drive.duty_cycle"]
    assert on_air.difference_ci95 is not None
    assert on_air.difference_ci95[0] > 0
    # 64 bits at 1 Mbit/s, and as many at 8 MHz over each of the two buses.
    delay = found.figures["stream.drive.latency_ms.mean"]
    assert delay.difference == pytest.approx(0.064 + 0.008, abs=0.02)
    assert found.bound_ms["motor"].new_ms is not None


NAMES = st.sampled_from(("throttle", "log", "trim_left"))
PLACES = st.sets(st.integers(0, 11), max_size=5)


def with_fields(singles: Collection[str], places: Collection[int]) -> str:
    names = ("throttle", *singles, *(f"cell_{place}" for place in sorted(places)))
    fields = ", ".join(f"{{name='{name}', type='u8'}}" for name in dict.fromkeys(names))
    return f"{{fields=[{fields}]}}"


@given(st.sets(NAMES), PLACES, st.sets(NAMES), PLACES)
@examples(40)
def test_places_of_an_array_side_by_side_take_one_line_and_every_field_is_in_one(
    singles: set[str], places: set[int], now: set[str], places_now: set[int]
) -> None:
    old = parse(SCENARIO, overrides=[f"layout.small={with_fields(singles, places)}"])
    new = parse(SCENARIO, overrides=[f"layout.small={with_fields(now, places_now)}"])
    layout = new.layouts()["small"]
    named_new = NamedLayout(label="small", layout=layout, abi=None, targets={}, scenario=new)
    _, notes = with_layout(old, ["drive"], named_new, "small")

    assert told_fields(notes, "new", sorted(places_now)) == {
        *(now - singles - {"throttle"}),
        *(f"cell_{place}" for place in places_now - places),
    }
    assert told_fields(notes, "gone", sorted(places)) == {
        *(singles - now - {"throttle"}),
        *(f"cell_{place}" for place in places - places_now),
    }
    runs = sum(
        len([was for was, _ in groupby(sorted(mine), other.__contains__) if not was])
        for mine, other in ((places_now, places), (places, places_now))
    )
    assert sum("cell_" in note for note in notes) == runs


def told_fields(notes: Iterable[str], what: str, places: Sequence[int]) -> set[str]:
    """Every field of which notes tell that it is new, or gone."""
    told: set[str] = set()
    for note in notes:
        names = re.match(rf"drive: (\w+)(?: to cell_(\d+))? (?:is|are) {what},", note)
        if names is None:
            continue
        first, last = names.groups()
        if last is None:
            told.add(first)
        else:
            begin = int(first.removeprefix("cell_"))
            told |= {f"cell_{place}" for place in places if begin <= place <= int(last)}
    return told


@pytest.mark.slow
def test_workers_make_no_difference() -> None:
    new, _ = with_layout(OLD, ["drive"], named("large"), "small")

    one = layout_change(OLD, new, ("drive",), workers=1)
    assert one == layout_change(OLD, new, ("drive",), workers=2)


def test_a_field_that_an_output_needs_may_not_go() -> None:
    with pytest.raises(ScenarioError) as caught:
        with_layout(OLD, ["drive"], named("other"), "small")

    assert "output.motor.field: must be a field of transmitter.drive (speed)" in str(caught.value)


def test_the_interval_is_that_of_paired_differences() -> None:
    # Differences 1, 2 and 3 of starts that are alike before: mean 2, deviation 1, t = 4.303
    # (Student, 2 degrees of freedom).
    pairs = [((1.0, {"x": 10.0}), (1.0, {"x": 10.0 + d})) for d in (1, 2, 3)]
    change = changes_of(pairs)["x"]

    assert change.difference == pytest.approx(2.0)
    assert change.difference_ci95 == pytest.approx(
        (2 - 4.303 / 3**0.5, 2 + 4.303 / 3**0.5), abs=1e-3
    )


def test_a_change_that_is_the_same_in_every_start_is_sure_where_starts_are_alike() -> None:
    pairs = [((1.0, {"x": 10.0}), (1.0, {"x": 10.5})) for _ in range(4)]

    assert changes_of(pairs)["x"].difference_ci95 == (0.5, 0.5)


def test_starts_that_differ_from_each_other_may_yet_differ_by_the_layout() -> None:
    """Ten starts alike before and after say little of one in twenty that is not."""
    path = "stream.drive.gap_ms.max"
    pairs = [((1.0, {path: v}), (1.0, {path: v})) for v in (20.0, 40.0) * 5]
    change = changes_of(pairs)[path]

    # One in twenty that jumps by 20 moves the mean by 1.
    assert change.difference == 0
    assert change.difference_ci95 is not None
    assert change.difference_ci95[0] <= -1 < 1 <= change.difference_ci95[1]


def test_a_rate_of_events_that_none_showed_has_no_interval() -> None:
    path = "stream.drive.failsafe.nuisance_per_hour"
    pairs = [((1.0, {path: 0.0}), (1.0, {path: 0.0}))] * 4

    assert changes_of(pairs)[path].difference_ci95 is None
