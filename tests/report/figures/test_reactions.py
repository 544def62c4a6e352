"""Reactions against their bounds."""

import pytest

from radiosim.report.figures.reactions import figure, reactions_data
from tests.report.reports import a_drill, a_sound_drill


def test_each_drill_has_one_row_and_its_terms_make_the_bound() -> None:
    data = reactions_data(a_drill())
    faults = {(drill.fault, drill.unit) for drill in a_drill().drills}

    assert {(drill.fault, drill.unit) for drill in data.drills} == faults
    assert len(data.drills) == len(faults)
    for drill in data.drills:
        if drill.bound_ms is not None:
            assert sum(ms for _, ms in drill.terms) == pytest.approx(drill.bound_ms)


def test_what_is_not_in_time_is_the_title() -> None:
    made = figure(a_drill())

    assert made.title.startswith("Not everything reacts in time: motor at power_off drive")
    assert "Not in time: power_off drive" in made.text


def test_a_sound_drill_tells_its_longest_reaction_and_the_terms() -> None:
    made = figure(a_sound_drill())

    assert made.title.startswith("Everything reacts within its bound; from the last frame")
    assert "timeout 250 ms" in made.text
    assert "stroke: var(--ink)" in made.draw().wide_svg
