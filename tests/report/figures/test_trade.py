"""The trade of a timeout."""

import dataclasses

from radiosim.report.figures.trade import draw, trade_data
from tests.report.page.study_pages import a_drill, a_sound_drill


def test_a_timeout_among_those_that_keep_both_is_told() -> None:
    data = dataclasses.replace(
        trade_data(a_sound_drill(), "drive"), shortest_ms=100.0, longest_ms=400.0, why_no_room=""
    )
    outside = dataclasses.replace(data, now_ms=500.0)

    assert draw(data, 0).title == (
        "drive: timeouts from 100 to 400 ms keep both limits; the 250 ms of now are among them"
    )
    assert "are NOT among them" in draw(outside, 0).title


def test_without_a_bound_the_title_says_why_there_is_no_room() -> None:
    figure = draw(trade_data(a_drill(), "drive"), 1)

    assert figure.name == "trade-1"
    assert figure.title.startswith("drive: no timeout keeps both: ")
    assert "a stop has no bound" in figure.text
    assert "no timeout has a bound" in figure.wide_svg


def test_the_data_are_those_of_the_curve() -> None:
    drilled = a_sound_drill()
    data = draw(trade_data(drilled, "drive"), 0).data

    assert data["timeout_ms"] == [point.timeout_ms for point in drilled.trade["drive"]]
    assert data["worst_reaction_ms"] == [
        point.worst_reaction_ms for point in drilled.trade["drive"]
    ]
