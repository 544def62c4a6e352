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
        "3 of 12 pairs of periods break; the commonest cause: clocks meet"
    )
    assert "2 (M) broken: clocks meet, 1 (C) broken: collision" in periods.draw(broken).text


def test_a_cause_is_told_by_letter_and_hatch_besides_colour() -> None:
    data = periods.periods_data(a_tuning())
    assert data is not None
    svg = periods.draw(dataclasses.replace(data, letters=("M...", "....", "...."))).wide_svg

    assert ">M</text>" in svg
    assert "<pattern" in svg


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
