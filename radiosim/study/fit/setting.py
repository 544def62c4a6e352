"""A setting as a log has it, and what helps to find it."""

from collections.abc import Callable, Sequence

from msgspec import Struct

from radiosim.bench_log.estimates import Estimate
from radiosim.scenario import Scenario
from radiosim.study.fit.figure import Figure, Values

RERUN_STARTS = 79
"""Of each setting: of n starts the smallest chance but one is 4/(n + 1), 0.05; and one more lies
beyond all of them once in 80 times."""
Simulated = Callable[[Scenario, int], Sequence[Values]]
"""Figures of simulated logs of a scenario, of so many starts."""


class Setting(Struct, frozen=True, kw_only=True):
    """One setting as the log has it."""

    lines: tuple[str, ...]
    """KEY=VALUE, as for --set."""
    measured: str
    """Its figure with its interval, or how it was found."""
    value: float | None = None
    """Of the first line, or of its length of bad bursts."""
    low: float | None = None
    """Where that lies with a trust of 95 %; None: not known."""
    high: float | None = None

    @property
    def keys(self) -> tuple[str, ...]:
        """What it sets."""
        return tuple(line.partition("=")[0] for line in self.lines)


def interval_text(found: Estimate, unit: str, digits: int = 6) -> str:
    """An interval as comments and tables show it."""
    return f"{found.low:.{digits}g} to {found.high:.{digits}g} {unit}".rstrip()


def as_measured(key: str, found: Estimate, text: str, digits: int = 6) -> Setting:
    """A setting that is the figure itself."""
    return Setting(
        lines=(f"{key}={found.value:.{digits}g}",),
        measured=text,
        value=found.value,
        low=found.low,
        high=found.high,
    )


def moved(
    key: str, value: float, figure: Figure, text: str, *, per_unit: float = 1.0, blur: float = 0.0
) -> Setting:
    """A setting that was moved by as much as its figure was off; the interval is the figure's.

    `per_unit`: how many of the setting's units one of the figure's is; `blur`: how far the setting
    may be from it besides, in its own units.
    """
    found, low, high = figure.estimate, None, None
    if found is not None:
        low = value + (found.low - found.value) * per_unit - blur
        high = value + (found.high - found.value) * per_unit + blur
    return Setting(lines=(f"{key}={value:.6g}",), measured=text, value=value, low=low, high=high)


def usual(simulated: Sequence[Values], key: str) -> float | None:
    """Median of a figure in simulated logs; None if they lack it."""
    found = sorted(one[key] for one in simulated if key in one)
    return found[len(found) // 2] if found else None
