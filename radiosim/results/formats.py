"""Values as text: numbers, shares, times and lists as a builder says them; ASCII only."""

import math
from collections.abc import Callable, Sequence
from typing import Any

NOTHING = "-"
"""Stands where there was nothing to measure."""
_SMALLEST = 0.0001
_S_PER_MIN, _S_PER_HOUR = 60, 3600
_MINUTES_FROM_S = 120


def fmt_sig3(value: float | None) -> str:
    """Three significant digits, never an exponent: 48.9, 412, 1230, 0.0551; `-` for None."""
    if value is None:
        return NOTHING
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    if abs(value) < _SMALLEST:
        return f"<{_SMALLEST:g}" if value > 0 else f">-{_SMALLEST:g}"
    rounded = round(value, _decimals(value))
    # Rounding up may have made the number one digit longer: 9.996 is 10.0.
    return f"{rounded:.{max(_decimals(rounded), 0)}f}"


def _decimals(value: float) -> int:
    """Decimal places of three significant digits."""
    return 2 - math.floor(math.log10(abs(value)))


def fmt_exact(value: float) -> str:
    """A number as a scenario gives it: not rounded, but for the noise of a float."""
    return f"{value:.10g}"


def fmt_count(value: int) -> str:
    """A whole number in groups of three digits: 1,230,000."""
    return f"{value:,}"


def fmt_percent(share: float | None) -> str:
    """A share of 0 to 1 in per cent: `97.5 %`; `-` for None."""
    return NOTHING if share is None else f"{fmt_sig3(100 * share)} %"


def fmt_range(
    ends: tuple[float | None, float | None],
    unit: str = "",
    show: Callable[[float], str] = fmt_sig3,
) -> str:
    """Both ends with `to` between them, or one text if they look alike; `-` if one is None."""
    low, high = ends
    if low is None or high is None:
        return NOTHING
    texts = dict.fromkeys((show(low), show(high)))
    return " to ".join(texts) + (f" {unit}" if unit else "")


def fmt_value(value: Any) -> str:
    """Any value: counts in groups, floats with three digits, `yes` and `no`, texts as they are."""
    match value:
        case None:
            return NOTHING
        case bool():
            return "yes" if value else "no"
        case int():
            return fmt_count(value)
        case float():
            return fmt_sig3(value)
        case _:
            return str(value)


def duration_text(ms: float | None) -> str:
    """A time as people say it: 350 ms, 2.6 s, 2 min 35 s, 1 h 40 min; `-` for None.

    Seconds from 1,000 ms on, minutes from 120 s on, hours from 60 min on.
    """
    if ms is None:
        return NOTHING
    if ms < 0:
        return f"-{duration_text(-ms)}"
    if not math.isfinite(ms):
        return "for ever"
    rounded_ms = float(f"{ms:.3g}")
    if rounded_ms < 1000:
        return f"{_without_zeros(ms)} ms"
    if rounded_ms < 1000 * _MINUTES_FROM_S:
        return f"{rounded_ms / 1000:.10g} s"
    return _minutes_text(ms / 1000)


def _without_zeros(value: float) -> str:
    text = fmt_sig3(value)
    return text.rstrip("0").rstrip(".") if "." in text and "<" not in text else text


def _minutes_text(seconds: float) -> str:
    whole_s = round(seconds)
    if whole_s < _S_PER_HOUR:
        return _two_units(*divmod(whole_s, _S_PER_MIN), "min", "s")
    return _two_units(*divmod(round(seconds / _S_PER_MIN), 60), "h", "min")


def _two_units(large: int, small: int, large_unit: str, small_unit: str) -> str:
    text = f"{large:,} {large_unit}"
    return f"{text} {small} {small_unit}" if small else text


def list_text(names: Sequence[str], word: str = "and") -> str:
    """Names as in a sentence: `a`, `a and b`, `a, b and c`."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {word} {names[-1]}"
