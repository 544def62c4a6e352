"""Figures of a tuning: periods, Pareto front, influence."""

import dataclasses

import msgspec

from radiosim.report.figures import influence, pareto_front, periods
from tests.report.reports import a_tuning


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
    broken = dataclasses.replace(data, letters=("B.C.", "B...", "...."))

    assert periods.figure_of(broken).title == (
        "3 of 12 pairs of periods break; the commonest cause: clocks beat"
    )
    assert "2 (B) broken: clocks beat, 1 (C) broken: collision" in periods.figure_of(broken).text


def test_a_cause_is_told_by_letter_and_hatch_besides_colour() -> None:
    data = periods.periods_data(a_tuning())
    assert data is not None
    svg = (
        periods.figure_of(dataclasses.replace(data, letters=("B...", "....", "....")))
        .draw()
        .wide_svg
    )

    assert ">B</text>" in svg
    assert "<pattern" in svg


def test_a_cell_that_was_not_tried_is_told_and_looks_otherwise_than_one_that_holds() -> None:
    data = periods.periods_data(a_tuning())
    assert data is not None
    made = periods.figure_of(dataclasses.replace(data, letters=("... ", "....", "....")))
    whole = periods.figure_of(dataclasses.replace(data, letters=("....",) * 3))

    assert "1 not tried" in made.text
    assert ">not tried</text>" in made.draw().wide_svg
    assert "<pattern" in made.draw().wide_svg
    assert "<pattern" not in whole.draw().wide_svg
    assert "11 of 11 pairs" in made.title


def test_a_scenario_that_misses_where_its_cell_holds_is_told_of() -> None:
    found = a_tuning()
    own = found.as_it_stands
    missed = msgspec.structs.replace(
        own, figures=msgspec.structs.replace(own.judged, margin=-0.5, ok=False)
    )
    data = periods.periods_data(msgspec.structs.replace(found, as_it_stands=missed))

    assert data is not None
    assert "as it stands the scenario misses a requirement" in periods.figure_of(data).text
    agreed = periods.periods_data(found)
    assert agreed is not None
    assert agreed.own_cell == ""


def test_one_period_alone_makes_no_map() -> None:
    found = a_tuning()
    one = msgspec.structs.replace(found, settings=found.settings[:1])

    assert periods.periods_data(one) is None


def test_the_pareto_front_is_that_of_the_tuning_and_no_point_beats_it() -> None:
    data = pareto_front.pareto_front_data(a_tuning())
    assert data is not None

    assert len(data.pareto_front) == len(a_tuning().pareto_front)
    for cost in data.holding:
        assert not any(
            all(a < b for a, b in zip(cost, best, strict=True)) for best in data.pareto_front
        )


def test_many_points_are_thinned() -> None:
    found = a_tuning()
    many = msgspec.structs.replace(found, points=found.points * 100)
    data = pareto_front.pareto_front_data(many)
    assert data is not None

    assert len(data.holding) + len(data.broken) <= 2 * pareto_front.MOST_SHOWN


def test_the_weightiest_setting_comes_first() -> None:
    data = influence.influence_data(a_tuning())
    assert data is not None

    assert list(data.first_order) == sorted(data.first_order, reverse=True)
    alone = influence.InfluenceData(
        settings=("transmitter.a.period_ms",), first_order=(0.9,), total=(None,), rest=0.1
    )
    assert (
        influence.figure_of(alone).title
        == "a.period_ms matters most: 90.0 % of the margin's variance"
    )
