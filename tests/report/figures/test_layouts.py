"""Figures of two layouts: bytes, and what a link makes of the change."""

import dataclasses

import pytest

from radiosim.report.figures import bytes as byte_map
from radiosim.report.figures import change
from radiosim.report.terminal.words import digits
from tests.report.page.study_pages import a_change, layouts


def test_what_lies_elsewhere_and_what_is_new_is_marked() -> None:
    old, new = (named.layout for named in layouts())
    changes = {field.name: field.change for field in byte_map.bytes_data(new, old).fields}

    assert changes == {"mode": "only here", "count": "moved", "pull": "moved"}
    assert byte_map.draw(byte_map.bytes_data(new, old), "new").title == (
        "The new frame has 4 bytes: count and pull lie elsewhere; mode only here"
    )


def test_a_layout_beside_itself_has_nothing_marked() -> None:
    old = layouts()[0].layout
    figure = byte_map.draw(byte_map.bytes_data(old, old), "old")

    assert figure.title == "The old frame has 2 bytes, every field where the other has it"
    assert "count (u8): byte 0, same." in figure.text


def test_differences_are_shares_of_what_was_before() -> None:
    found = a_change()
    data = change.change_data(found)
    assert data is not None
    air = next(it for it in data.figures if it.words == "ms on the air a second")
    plain = found.change[f"stream.{air.stream}.duty_cycle"]

    assert air.is_told_apart
    assert air.percent == pytest.approx(100 * plain.difference / plain.old)
    title = change.draw(data).title
    assert title.endswith(f"drive's ms on the air a second by +{digits(air.percent)} %")


def test_what_is_not_told_apart_is_said() -> None:
    data = change.change_data(a_change())
    assert data is not None
    alike = tuple(dataclasses.replace(it, is_told_apart=False) for it in data.figures)

    assert change.draw(dataclasses.replace(data, figures=alike)).title == (
        "These starts tell nothing apart between the two layouts"
    )
