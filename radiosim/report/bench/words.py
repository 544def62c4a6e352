"""Predictions in words."""

import math

from radiosim.report.terminal.words import digits, printable
from radiosim.study.bench.step import CLOSED, RULE, Prediction


def band_text(it: Prediction) -> str:
    """The band with its unit, or what to see."""
    if it.low is None and it.high is None:
        return printable(it.text)
    unit = f" {it.unit}" if it.unit else ""
    if it.low is None:
        return f"at most {_number(it.high)}{unit}"
    low, high = _ends(it.low, it.high)
    if low == high:
        return f"{low}{unit}"
    return f"{low} to {high}{unit}"


def source_text(it: Prediction) -> str:
    """Where it comes from."""
    if it.source in (CLOSED, RULE):
        return it.source
    share = "" if it.share is None else f", {100 * it.share:.0f} %"
    return f"simulated over {it.tries} starts{share}"


def _ends(low: float, high: float | None) -> tuple[str, str]:
    """Both ends with as many digits as tell them apart, six at most."""
    texts = _number(low), _number(high)
    if high is None or low == high or texts[0] != texts[1]:
        return texts
    return f"{low:.6g}", f"{high:.6g}"


def _number(value: float | None) -> str:
    if value is None:
        return "any"
    if not math.isfinite(value):
        return "without end"
    return f"{value:.0f}" if value == int(value) else digits(value)


def remark(it: Prediction) -> str:
    """What else there is to say of a prediction with a number."""
    return "" if it.low is None and it.high is None else printable(it.text)
