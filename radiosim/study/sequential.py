"""Starts added until a figure's interval is narrow enough (sequential stopping).

To look again and again at an interval of 95 % and to stop at a lucky moment would cover less than
95 %. So the looks are fixed beforehand, each twice as many starts as the one before, and each
interval misses with a share of 5 % over their number: that any of them misses, and so the one at
which it stops, has a chance of 5 % at most, whatever the rule of stopping.

Source: Bonferroni's inequality for simultaneous intervals (O. J. Dunn, "Multiple comparisons among
means", JASA 56, 1961), an even spending of the chance over fixed looks (K. K. G. Lan, D. L. DeMets,
"Discrete sequential boundaries for clinical trials", Biometrika 70, 1983); from memory.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from msgspec import Struct

from radiosim.engine.choice import Engine
from radiosim.errors import RadiosimError
from radiosim.measure.figures import figures_of
from radiosim.measure.intervals import MISS
from radiosim.measure.tally import Pool, Range, StartTally, joined, pool_of, without_spreads
from radiosim.scenario import Scenario
from radiosim.study.starts import tallies_of

FIRST_LOOK = 8
"""Starts before the first look: fewer say little about how far starts differ."""
OF_STREAM = ("delivery_ratio", "update_rate_hz", "attempts_per_frame", "failsafe.nuisance_per_hour")
OF_OUTPUT = ("update_rate_hz",)
"""Figures that have an interval over starts."""


class NarrowError(RadiosimError):
    """A figure that has no interval, or a width that is none."""


class Narrow(Struct, frozen=True, kw_only=True):
    """What is asked: a figure to be known to so much either way."""

    figure: str
    half_width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stopped:
    """The starts up to the look at which it stopped."""

    tallies: tuple[StartTally, ...]
    interval: tuple[float, float] | None
    """Of the figure asked for, of 95 % over all looks together; None: nothing to measure."""
    is_narrow: bool
    """Narrow enough; else the starts allowed were used up."""


def narrow_of(text: str, scenario: Scenario) -> Narrow:
    """What `FIGURE=WIDTH` asks; NarrowError for a figure without an interval, or no width."""
    figure, _, width = text.partition("=")
    try:
        half_width = float(width)
    except ValueError:
        half_width = 0.0
    if not 0 < half_width < float("inf"):
        raise NarrowError(f"--narrow: must be FIGURE=WIDTH with a width > 0, got '{text}'")
    known = tuple(_figures(scenario))
    if figure.strip() not in known:
        raise NarrowError(
            f"--narrow: must be a figure that has an interval, such as {known[0]}, "
            f"got '{figure.strip()}'"
        )
    return Narrow(figure=figure.strip(), half_width=half_width)


def _figures(scenario: Scenario) -> Iterator[str]:
    for name in scenario.transmitter:
        for figure in OF_STREAM:
            if name in scenario.failsafe or not figure.startswith("failsafe."):
                yield f"stream.{name}.{figure}"
    for name in scenario.output:
        yield from (f"output.{name}.{figure}" for figure in OF_OUTPUT)


def looks_of(most: int) -> tuple[int, ...]:
    """After how many starts to look, the last at all that are allowed."""
    found = []
    starts = FIRST_LOOK
    while starts < most:
        found.append(starts)
        starts *= 2
    return (*found, most)


def until_narrow(
    scenario: Scenario, asked: Narrow, most: int, *, first: int = 0, engine: Engine = "auto"
) -> Stopped:
    """Starts from `first` on, as many as it takes, at most `most` (at least 2)."""
    looks = looks_of(most)
    tallies: list[StartTally] = []
    for number, look in enumerate(looks):
        tallies += tallies_of(scenario, range(first + len(tallies), first + look), engine)
        pool = _counts_of(Range(first=first, count=look), tallies)
        interval = interval_of(scenario, pool, asked.figure, MISS / len(looks))
        is_narrow = interval is not None and interval[1] - interval[0] <= 2 * asked.half_width
        if is_narrow or number == len(looks) - 1:
            break
    return Stopped(tallies=tuple(tallies), interval=interval, is_narrow=is_narrow)


def _counts_of(starts: Range, tallies: Sequence[StartTally]) -> Pool:
    """What intervals need of some starts: weights are those of so many, and no spreads."""
    return joined([pool_of(without_spreads(tally), starts.weight(tally), {}) for tally in tallies])


def interval_of(
    scenario: Scenario, pool: Pool, figure: str, miss: float
) -> tuple[float, float] | None:
    """Interval of one figure that misses it with a chance of `miss`; None: not measured."""
    value: object = figures_of(scenario, pool, miss)
    for step in f"{figure}_ci95".split("."):
        value = value[step] if isinstance(value, dict) else getattr(value, step)
    return (value[0], value[1]) if isinstance(value, tuple) else None
