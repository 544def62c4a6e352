"""Pictures of pages take the page's colours; the same painter paints into axes of a notebook."""

import re
from typing import Any

import pytest
from matplotlib.figure import Figure

from radiosim.report.figures import canvas
from radiosim.report.figures.canvas import Canvas, drawing
from radiosim.results.html import palette

NAMED = {
    "ink": canvas.INK,
    "quiet": canvas.QUIET,
    "line": canvas.LINE,
    "ground": canvas.GROUND,
    "bad": canvas.BAD,
    "good": canvas.GOOD,
    **{f"series-{k + 1}": colour for k, colour in enumerate(canvas.SERIES)},
}


def two_panels(on: Canvas) -> None:
    for number, axes in enumerate(on.axes(2, sharex=True)):
        axes.plot([1, 2], [number, 3], color=canvas.SERIES[number], label=f"line ${number}$")
    on.key()


def one_panel(on: Canvas) -> None:
    (axes,) = on.axes()
    axes.plot([1, 2], [3, 4], color=canvas.BAD, label="line")
    on.legend(ncols=2)


def test_colours_are_those_of_a_light_page() -> None:
    light = dict(re.findall(r"--([\w-]+): (#\w+)", palette().partition("@media")[0]))

    assert {name: light[name] for name in NAMED} == NAMED
    assert len(set(NAMED.values())) == len(NAMED)


@pytest.mark.parametrize("paint", [one_panel, two_panels])
def test_a_picture_of_a_page_has_no_colours_of_its_own(paint: Any) -> None:
    made = drawing("sample", "A sample", paint)

    for svg in (made.wide_svg, made.narrow_svg):
        assert "var(--" in svg
        assert not any(colour in svg for colour in NAMED.values())


def test_axes_that_were_given_are_painted_in_and_returned() -> None:
    given = Figure().subplots(1, 2)
    made = drawing("sample", "A sample", one_panel).into(given[0])

    assert made is given[0]
    assert [line.get_color() for line in made.lines] == [canvas.BAD]
    assert [text.get_text() for text in made.get_legend().get_texts()] == ["line"]
    assert not given[1].lines
    assert len(made.figure.axes) == 2


def test_panels_take_the_place_of_the_axes() -> None:
    figure = Figure(layout="constrained")
    left, right = figure.subplots(1, 2)
    drawing("sample", "A sample", two_panels).into(left)
    figure.draw_without_rendering()
    panels = [axes for axes in figure.axes if axes not in (left, right)]

    assert [len(axes.lines) for axes in panels] == [1, 1]
    assert all(axes.get_position().x1 < right.get_position().x0 for axes in panels)
    assert [text.get_text() for text in panels[-1].get_legend().get_texts()] == [
        "line $0$",
        "line $1$",
    ]


def test_axes_without_a_grid_hold_panels_too() -> None:
    figure = Figure()
    given = figure.add_axes((0.1, 0.2, 0.3, 0.4))
    drawing("sample", "A sample", two_panels).into(given)
    box = given.get_position()

    assert all(box.x0 <= axes.get_position().x0 < box.x1 for axes in figure.axes)


def test_without_axes_there_is_a_new_figure() -> None:
    from matplotlib import pyplot

    pyplot.switch_backend("agg")
    made = drawing("sample", "A sample", one_panel, height_px=200).into()

    assert len(made.lines) == 1
    assert made.figure is pyplot.gcf()
    assert tuple(made.figure.get_size_inches() * 72) == (720, 200)
    pyplot.close(made.figure)
