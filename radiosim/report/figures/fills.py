"""Fills that are told apart without colour."""

from typing import Any

from radiosim.report.figures.canvas import SERIES

FILLS = ("", "///", "xx", "--", "\\\\\\", "||", "++")
"""Lines only: a pattern of dots takes a quarter of a megabyte."""


def fill(number: int, opacity: float = 0.5) -> dict[str, Any]:
    """Colour and pattern of things that are counted from 0; no two of the first 28 are alike."""
    colour = SERIES[number % len(SERIES)]
    return {
        "facecolor": (colour, opacity),
        "edgecolor": colour,
        "hatch": FILLS[number % len(FILLS)],
        "lw": 0.6,
    }
