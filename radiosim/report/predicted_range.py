"""Predicted ranges in words, rounded to what can be read off, and never made narrower."""

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from radiosim.counted import counted
from radiosim.study.bench.step import Prediction


def range_text(predicted: Prediction) -> str:
    """The predicted range with its unit, or what to see."""
    if predicted.is_seen:
        return predicted.text
    text = f"{ends_text(predicted)} {predicted.unit}".rstrip()
    return f"{text}{ASSUMED if predicted.is_assumed else ''}"


ASSUMED = "*"
"""Stands behind a predicted range that rests on a default or guess."""


def marked_ends(predicted: Prediction) -> str:
    """The predicted range without its unit, and whether it rests on what nobody has said."""
    return f"{ends_text(predicted)}{ASSUMED if predicted.is_assumed else ''}"


def marked_bound(predicted: Prediction) -> str:
    """The upper end alone, and whether it rests on what nobody has said."""
    return f"{bound_text(predicted)}{ASSUMED if predicted.is_assumed else ''}"


def ends_text(predicted: Prediction) -> str:
    """The predicted range without its unit; both ends lie outside the numbers, or on them."""
    high = math.inf if predicted.high is None else predicted.high
    low, high_text = _outward(predicted.low, high, predicted.resolution)
    if predicted.low is None:
        return f"at most {high_text}"
    if math.isinf(high):
        return f"at least {low}"
    return low if low == high_text else f"{low} to {high_text}"


def bound_text(predicted: Prediction) -> str:
    """The upper end alone."""
    return _outward(
        None, math.inf if predicted.high is None else predicted.high, predicted.resolution
    )[1]


def _outward(low: float | None, high: float, resolution: float) -> tuple[str, str]:
    """Ends rounded outward: to what can be told apart, or to three digits where that adds little.

    Little is a twentieth of the width at each end.
    """
    finest = round(math.log10(resolution)) if resolution > 0 else -9
    width = high - low if low is not None and math.isfinite(high) else 0.0
    coarsest = math.floor(math.log10(width / 20)) if width > 0 else finest
    low_text = "" if low is None else _rounded(low, finest, coarsest, ROUND_FLOOR)
    return low_text, _rounded(high, finest, coarsest, ROUND_CEILING)


def _rounded(value: float, finest: int, coarsest: int, way: str) -> str:
    if math.isinf(value):
        return "without end"
    if value == 0:
        return "0"
    third = math.floor(math.log10(abs(value))) - 2
    place = max(finest, min(third, coarsest))
    # Twelve digits first: a float's last ones would take a number that is exact a step further.
    exact = Decimal(f"{value:.12g}")
    number = exact.quantize(Decimal(1).scaleb(place), rounding=way)
    return f"{number:f}" if number else "0"


def remark(predicted: Prediction, share: float | None, tries: int) -> str:
    """What else there is to say of a prediction with a number.

    Its own trust too, where that is not that of the sheet: `share` of `tries` starts.
    """
    said = [predicted.text] if predicted.text and predicted.aspect != "reaction" else []
    if predicted.share is not None and (predicted.share != share or predicted.tries != tries):
        said.append(f"{100 * predicted.share:.0f} %, over {counted(predicted.tries, 'start')}")
    return "; ".join(said)
