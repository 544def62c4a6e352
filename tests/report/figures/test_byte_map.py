"""The figure of a frame's bytes: what lies where, what moved, and colours that keep to names."""

import re
import xml.etree.ElementTree as ET
from typing import Any

import pytest

from radiosim.report.figures.byte_map import figure, figures, svg_map
from radiosim.report.figures.byte_map_paint import PATTERNS
from radiosim.results.html import palette
from radiosim.scenario import parse
from tests.report.layout_samples import LAID, layouts

UNIT = '[transmitter.drive]\nlayout = "frame"\nperiod_ms = 20\n'
OLD, NEW = (named.layout for named in layouts())


def fields(data: Any) -> dict[str, Any]:
    return {field["name"]: field for field in data["fields"]}


def test_what_lies_elsewhere_and_what_is_new_is_marked() -> None:
    _, new = figures(OLD, NEW)

    assert {name: field["change"] for name, field in fields(new.data).items()} == {
        "mode": "only here",
        "count": "moved",
        "pull": "moved",
    }
    assert new.title == (
        "The new frame has 4 bytes: count and pull lie elsewhere or differ; mode only here"
    )


def test_a_layout_beside_itself_has_nothing_marked() -> None:
    old, _ = figures(OLD, OLD)

    assert old.title == "The old frame has 2 bytes, every field where the other has it"
    assert "count (u8): byte 0, same." in old.text
    assert 'stroke-width="3"/>' not in old.draw().wide_svg


def test_a_field_keeps_its_colour_from_old_to_new_and_no_two_fields_look_alike() -> None:
    old, new = (fields(drawn.data) for drawn in figures(OLD, NEW))

    assert all(new[name]["fill"] == field["fill"] for name, field in old.items())
    assert len({field["fill"] for field in new.values()}) == len(new)
    assert len({(fill % 4, fill % len(PATTERNS)) for fill in range(28)}) == 28


@pytest.mark.parametrize("width", ["wide_svg", "narrow_svg"])
def test_a_page_s_picture_has_the_page_s_colours_alone_and_a_pattern_beside_each(
    width: str,
) -> None:
    drawn = getattr(figures(OLD, NEW)[1].draw(), width)
    root = ET.fromstring(drawn)
    colours = set(re.findall(r'(?:fill|stroke)="([^"]+)"', drawn))

    assert all(re.fullmatch(r"var\(--[\w-]+\)|none|url\(#.*\)", colour) for colour in colours)
    assert {"var(--series-1)", "var(--series-2)", "var(--series-3)"} <= colours
    titles = {node.text for node in root.iter("{http://www.w3.org/2000/svg}title")}
    assert titles == {"mode", "count", "pull"}


def test_a_picture_of_its_own_has_the_light_page_s_colours() -> None:
    drawn = svg_map(NEW)
    ET.fromstring(drawn)

    assert "var(" not in drawn
    assert set(re.findall(r"#[0-9a-f]{6}", drawn)) <= set(re.findall(r"#\w+", palette()))
    assert f'fill="{re.findall("--ground: (#.{6})", palette())[0]}"' in drawn


def test_letters_show_the_same_within_78_columns() -> None:
    letters = figure(NEW).letters

    assert max(map(len, letters)) <= 78
    assert [name for name in ("mode", "count", "pull") if name in letters[2]] == [
        "mode",
        "count",
        "pull",
    ]


def test_of_many_moved_fields_the_first_are_named() -> None:
    listed = ", ".join(f'{{ name = "{name}", type = "u8" }}' for name in "abcde")
    few, many = (
        parse(f"{LAID.split('[layout')[0]}[layout.frame]\nfields = [{text}]\n{UNIT}").layouts()
        for text in (listed, f'{{ name = "first", type = "u8" }}, {listed}')
    )

    _, new = figures(few["frame"], many["frame"])
    assert new.title == (
        "The new frame has 6 bytes: a, b, c and 2 more lie elsewhere or differ; first only here"
    )
