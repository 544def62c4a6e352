"""Figures of a bench log: values stand where their ranges say, and gaps are those of the curves."""

import msgspec
import pytest

from radiosim.report.figures.bench_log import figures_of_log
from tests.study.fit.samples import a_fit


def test_the_figures_of_a_log_show_what_it_says() -> None:
    fit = a_fit()
    values, gaps, offsets = figures_of_log(fit)

    assert values.title == "1 figure of 2 not held"
    assert values.data["figures"] == msgspec.to_builtins(fit.figures)
    assert gaps.title == "The longest gap on the time that was held back: 61.3 ms, of drive"
    assert gaps.data["is_held_back"] is True
    assert offsets.title == "Frames are read up to 3.5 ms late beside their grid"


@pytest.mark.slow
def test_a_picture_has_its_words() -> None:
    for figure, words in zip(
        figures_of_log(a_fit()),
        (("loop time", "predicted from", "not held"), ("share of gaps",), ("drive, ms",)),
        strict=True,
    ):
        picture = figure.draw()
        for svg in (picture.wide_svg, picture.narrow_svg):
            assert all(word in svg for word in words)
