"""Figures of a tuning: periods, front, influence."""

import dataclasses

from radiosim.report.figures import front, influence, periods
from tests.report.page.study_pages import a_tuning


def test_a_map_of_periods_has_a_letter_for_each_pair() -> None:
    data = periods.periods_data(a_tuning())
    assert data is not None

    assert (len(data.across), len(data.down)) == (4, 3)
    assert [len(row) for row in data.letters] == [4, 4, 4]
    assert data.now == (20.0, 23.0)
    best = a_tuning().best
    assert best is not None
    assert data.best == best.values


def test_the_commonest_cause_of_a_break_is_the_title() -> None:
    data = periods.periods_data(a_tuning())
    assert data is not None
    broken = dataclasses.replace(data, letters=("M.C.", "M...", "...."))

    assert periods.draw(broken).title == (
        "3 of 12 pairs of periods break; the commonest cause: clocks beat"
    )
    assert "2 (M) broken: clocks beat, 1 (C) broken: collision" in periods.draw(broken).text


def test_a_cause_is_told_by_letter_and_hatch_besides_colour() -> None:
    data = periods.periods_data(a_tuning())
    assert data is not None
    svg = periods.draw(dataclasses.replace(data, letters=("M...", "....", "...."))).wide_svg

    assert ">M</text>" in svg
    assert "<pattern" in svg


def test_a_cell_that_was_not_tried_is_told_and_looks_otherwise_than_one_that_holds() -> None:
    data = periods.periods_data(a_tuning())
    assert data is not None
    drawn = periods.draw(dataclasses.replace(data, letters=("... ", "....", "....")))

    assert "1 not tried" in drawn.text
    assert ">not tried</text>" in drawn.wide_svg
    assert "<pattern" in drawn.wide_svg
    assert "<pattern" not in periods.draw(dataclasses.replace(data, letters=("....",) * 3)).wide_svg
    assert "11 of 11 pairs" in drawn.title


def test_a_scenario_that_misses_where_its_cell_holds_is_told_of() -> None:
    found = a_tuning()
    own = found.as_it_stands
    missed = dataclasses.replace(own, row={**own.row, "margin": -0.5})
    data = periods.periods_data(dataclasses.replace(found, as_it_stands=missed))

    assert data is not None
    assert "as it stands the scenario misses a requirement" in periods.draw(data).text
    agreed = periods.periods_data(found)
    assert agreed is not None
    assert agreed.own_cell == ""


def test_one_period_alone_makes_no_map() -> None:
    found = a_tuning()
    one = dataclasses.replace(found, settings=found.settings[:1])

    assert periods.periods_data(one) is None


def test_the_front_is_that_of_the_tuning_and_no_point_beats_it() -> None:
    data = front.front_data(a_tuning())
    assert data is not None

    assert len(data.front) == len(a_tuning().front)
    for cost in data.holding:
        assert not any(all(a < b for a, b in zip(cost, best, strict=True)) for best in data.front)


def test_many_points_are_thinned() -> None:
    found = a_tuning()
    many = dataclasses.replace(found, points=found.points * 100)
    data = front.front_data(many)
    assert data is not None

    assert len(data.holding) + len(data.broken) <= 2 * front.MOST_SHOWN


def test_the_weightiest_setting_comes_first() -> None:
    data = influence.influence_data(a_tuning())
    assert data is not None

    assert list(data.alone) == sorted(data.alone, reverse=True)
    alone = influence.InfluenceData(
        settings=("transmitter.a.period_ms",), alone=(0.9,), in_all=(None,), rest=0.1
    )
    assert (
        influence.draw(alone).title == "a.period_ms matters most: 90.0 % of the margin's variance"
    )
