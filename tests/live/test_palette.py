"""Colours of pages stand out enough to be read, on light screens, dark ones and paper."""

import re
from itertools import product

import pytest

from radiosim.results.html import palette

SCHEMES = [dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", part)) for part in palette().split("@")]
READ = ("ink", "quiet", "bad", "good")
DRAWN = ("series-1", "series-2", "series-3", "series-4")
LEAST = 4.5
"""W3C, Web Content Accessibility Guidelines 2.2, success criterion 1.4.3, level AA."""


def luminance(colour: str) -> float:
    """Relative luminance; source: WCAG 2.2, definitions."""
    parts = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio; source: WCAG 2.2, definitions."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_that_of_the_guidelines() -> None:
    # Known values: black on white, and the lightest grey that passes on white, from memory.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("scheme", SCHEMES, ids=["light", "dark", "paper"])
def test_what_is_read_stands_out_from_what_it_stands_on(scheme: dict[str, str]) -> None:
    pairs = (*product(READ, ("ground", "panel")), *product(DRAWN, ("ground",)))
    ratios = {(ink, ground): contrast(scheme[ink], scheme[ground]) for ink, ground in pairs}

    assert {pair: ratio for pair, ratio in ratios.items() if ratio < LEAST} == {}
