"""Names and times beside lines."""

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from radiosim.report.figures.canvas import NARROW_PX
from radiosim.report.figures.gaps import NARROW_LETTERS
from radiosim.report.figures.looks import log_ms, marked_times


@pytest.mark.parametrize("ms", [60, 100, 140, 170, 200, 250, 500, 1500])
def test_words_beside_a_time_stay_inside_a_narrow_picture(ms: float) -> None:
    figure = Figure(figsize=(NARROW_PX / 72, 5), dpi=72, layout="constrained")
    canvas = FigureCanvasAgg(figure)
    axes = figure.subplots()
    axes.set_xlim(15, 2200)
    axes.set_ylabel("share of waits that last longer")
    log_ms(axes)
    axes.set_yticks([0.1, 1], ["0.0001 %", "100 %"])
    marked_times(axes, {ms: f"timeout of {'n' * NARROW_LETTERS}"})
    figure.draw_without_rendering()

    (words,) = [text for text in axes.texts if text.get_text()]
    box = words.get_window_extent(canvas.get_renderer())
    assert 0 <= box.x0 < box.x1 <= NARROW_PX
