"""Bands over distance."""

import dataclasses

import pytest

from radiosim.report.figures.reach import figure_of, reach_data
from radiosim.study.range import Limit
from tests.report.reports import a_reach


def test_the_data_are_those_of_the_range() -> None:
    found = a_reach()[1]
    data = reach_data(found)

    assert data.distance_m == tuple(point.distance_m for point in found.streams["drive"])
    assert data.streams[0].delivery_ratio.least == tuple(
        point.delivery_ratio.least for point in found.streams["drive"]
    )


@pytest.mark.parametrize(
    ("distances", "is_open", "said"),
    [
        ((50.0, 200.0), (False, False), "stops holding somewhere from 50 to 200 m"),
        ((50.0, 5000.0), (False, True), "stops holding from 50 m on, or far beyond 5000 m"),
        ((0.0, 0.0), (False, False), "holds at no distance"),
        ((0.0, 20.0), (False, False), "may hold nowhere, or up to 20 m"),
    ],
)
def test_where_a_requirement_ends_is_the_title(
    distances: tuple[float, float], is_open: tuple[bool, bool], said: str
) -> None:
    limit = Limit(
        requirement="stream.drive.gap_ms.max at most 200", distance_m=distances, is_open=is_open
    )
    figure = figure_of(dataclasses.replace(reach_data(a_reach()[1]), limits=(limit,)))

    assert figure.title == f"A requirement on drive {said}"
    assert f"1: stream.drive.gap_ms.max at most 200 {said}." in figure.text


def test_without_requirements_the_title_tells_where_half_is_lost() -> None:
    figure = figure_of(dataclasses.replace(reach_data(a_reach()[1]), limits=()))

    assert figure.title.startswith("drive may lose half of its values from about ")
