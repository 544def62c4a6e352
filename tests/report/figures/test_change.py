"""The figure of what another layout does to a link."""

import dataclasses

import pytest

from radiosim.report.figures.change import change_data, figure_of
from radiosim.results.formats import fmt_sig3
from tests.report.layout_samples import a_change


def test_differences_are_shares_of_what_was_before() -> None:
    found = a_change()
    data = change_data(found)
    assert data is not None
    air = next(row for row in data.figures if row.figure == "duty_cycle")
    plain = found.figures[f"stream.{air.stream}.duty_cycle"]

    assert air.is_told_apart
    assert (air.old, air.new) == (plain.old, plain.new)
    assert air.percent == pytest.approx(100 * plain.difference / plain.old)
    title = figure_of(data).title
    assert title.endswith(f"drive's duty cycle by +{fmt_sig3(air.percent)} %")


def test_what_is_not_told_apart_is_said() -> None:
    data = change_data(a_change())
    assert data is not None
    alike = tuple(dataclasses.replace(row, is_told_apart=False) for row in data.figures)

    assert figure_of(dataclasses.replace(data, figures=alike)).title == (
        "These starts tell nothing apart between the two layouts"
    )
