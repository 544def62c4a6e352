"""Numbers as a builder says them; ASCII only, so that any terminal shows them."""

import math

NOTHING = "-"
"""Stands where there was nothing to measure."""
_SMALLEST = 0.0001


def digits(value: float | None) -> str:
    """Three significant digits, never an exponent: 48.9, 412, 1230, 0.0551."""
    if value is None:
        return NOTHING
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    if abs(value) < _SMALLEST:
        return f"<{_SMALLEST:g}"
    rounded = round(value, _places(value))
    # Rounding up may have made the number one digit longer: 9.996 is 10.0.
    return f"{rounded:.{max(_places(rounded), 0)}f}"


def _places(value: float) -> int:
    """Decimal places of three significant digits."""
    return 2 - math.floor(math.log10(abs(value)))


def limit(value: float) -> str:
    """A number as the scenario gave it, or a count: no rounding beyond float noise."""
    return f"{value:.10g}"


def whole(value: int) -> str:
    """A count, in groups of three."""
    return f"{value:,}"


def share(value: float | None) -> str:
    """A share of 0…1 in per cent."""
    return NOTHING if value is None else f"{digits(100 * value)} %"


def span(seconds: float) -> str:
    """A length of time in the unit that fits: 30 s, 10 min, 6.67 h."""
    if seconds >= 3600:
        return f"{_short(seconds / 3600)} h"
    if seconds >= 120:
        return f"{_short(seconds / 60)} min"
    return f"{_short(seconds)} s"


def _short(value: float) -> str:
    return f"{value:.3g}" if value < 1000 else f"{value:.0f}"


def listed(names: tuple[str, ...]) -> str:
    """Names as in a sentence: `a`, `a and b`, `a, b and c`."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def printable(text: str) -> str:
    """A user's text without what would move the cursor."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)
