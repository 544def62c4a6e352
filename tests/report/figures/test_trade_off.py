"""The trade-off of a timeout."""

import dataclasses

from radiosim.report.figures.trade_off import figure_of, trade_off_data
from tests.report.reports import a_drill, a_sound_drill


def test_a_timeout_among_those_that_keep_both_is_told() -> None:
    data = dataclasses.replace(
        trade_off_data(a_sound_drill(), "drive"), shortest_ms=100.0, longest_ms=400.0, why_none=""
    )
    outside = dataclasses.replace(data, now_ms=500.0)

    assert figure_of(data, 0).title == (
        "drive: timeouts from 100 ms to 400 ms keep both limits; the 250 ms of now are among them"
    )
    assert "are NOT among them" in figure_of(outside, 0).title


def test_without_a_bound_the_title_says_why_there_is_none() -> None:
    figure = figure_of(trade_off_data(a_drill(), "drive"), 1)

    assert figure.name == "trade-off-1"
    assert figure.title.startswith("drive: no timeout keeps both: ")
    assert "a reaction has no bound" in figure.text
    assert "no timeout has a bound" in figure.draw().wide_svg


def test_the_data_are_those_of_the_curve() -> None:
    drilled = a_sound_drill()
    data = figure_of(trade_off_data(drilled, "drive"), 0).data

    assert list(data["timeout_ms"]) == [point.timeout_ms for point in drilled.trade_off["drive"]]
    assert list(data["worst_reaction_ms"]) == [
        point.worst_reaction_ms for point in drilled.trade_off["drive"]
    ]
