"""Stops against their bounds."""

import pytest

from radiosim.report.figures.stops import draw, stops_data
from tests.report.page.study_pages import a_drill, a_sound_drill


def test_each_drill_has_one_row_and_its_terms_make_the_bound() -> None:
    data = stops_data(a_drill())
    faults = {(drill.fault, drill.unit) for drill in a_drill().drills}

    assert {(drill.fault, drill.unit) for drill in data.drills} == faults
    assert len(data.drills) == len(faults)
    for drill in data.drills:
        if drill.bound_ms is not None:
            assert sum(ms for _, ms in drill.terms) == pytest.approx(drill.bound_ms)


def test_what_is_not_stopped_is_the_title() -> None:
    figure = draw(stops_data(a_drill()))

    assert figure.title.startswith("Not everything stops: motor at power_off drive")
    assert "Not stopped in time: power_off drive" in figure.text


def test_a_sound_drill_tells_its_longest_stop_and_the_terms() -> None:
    figure = draw(stops_data(a_sound_drill()))

    assert figure.title.startswith("Everything stops within its bound; the longest stop takes")
    assert "timeout 250" in figure.text
    assert "stroke: var(--ink)" in figure.wide_svg
