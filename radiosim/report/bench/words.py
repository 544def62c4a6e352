"""Predictions in words: bands rounded to what can be read off, never so that one gets narrower."""

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from radiosim.counted import counted
from radiosim.report.terminal.words import printable
from radiosim.study.bench.step import CLOSED, DRILLED, SIMULATED, Prediction

MARKS = {CLOSED: "F", SIMULATED: "S", DRILLED: "D"}
"""What stands for where a band comes from."""


def band_text(it: Prediction) -> str:
    """The band with its unit, or what to see."""
    if it.is_seen:
        return printable(it.text)
    return f"{ends_text(it)} {it.unit}".rstrip()


def ends_text(it: Prediction) -> str:
    """The band without its unit; both ends lie outside the numbers, or on them."""
    high = math.inf if it.high is None else it.high
    low, high_text = _outward(it.low, high, it.resolution)
    if it.low is None:
        return f"at most {high_text}"
    if math.isinf(high):
        return f"at least {low}"
    return low if low == high_text else f"{low} to {high_text}"


def bound_text(it: Prediction) -> str:
    """The upper end alone."""
    return _outward(None, math.inf if it.high is None else it.high, it.resolution)[1]


def _outward(low: float | None, high: float, resolution: float) -> tuple[str, str]:
    """Ends rounded outward: to what can be told apart, or to three digits where that adds little.

    Little is a twentieth of the band's width at each end.
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


def remark(it: Prediction, share: float | None, tries: int) -> str:
    """What else there is to say of a prediction with a number.

    Its own trust too, where that is not that of the card: `share` of `tries` starts.
    """
    said = [printable(it.text)] if it.text and it.aspect != "stop" else []
    if it.share is not None and (it.share != share or it.tries != tries):
        said.append(f"{100 * it.share:.0f} %, over {counted(it.tries, 'start')}")
    return "; ".join(said)
