"""Every start of a scenario, on all cores, pooled as they come; until an interval is narrow.

To look again and again at an interval of 95 % and to stop at a lucky moment would cover less than
95 %. So the looks are fixed beforehand, each twice as many starts as the one before, and each
interval misses with a share of 5 % over their number: that any of them misses, and so the one at
which it stops, has a chance of 5 % at most, whatever the rule of stopping.

Source: Bonferroni's inequality for simultaneous intervals (O. J. Dunn, "Multiple comparisons among
means", JASA 56, 1961), an even spending of the chance over fixed looks (K. K. G. Lan, D. L. DeMets,
"Discrete sequential boundaries for clinical trials", Biometrika 70, 1983); from memory.
"""

import functools
import math
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Executor

import msgspec
from msgspec import Struct

from radiosim.edges import RUN_HOURS, STARTS
from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import Engine, choose
from radiosim.engine.simulate import make_ready as make_engine_ready
from radiosim.errors import OptionError, RadiosimError
from radiosim.measure.figures import figures_of, flat
from radiosim.measure.intervals import MISS
from radiosim.measure.start import make_folds_ready, tally_flow, tally_program
from radiosim.measure.summarise import pool_starts, summary_of_pool
from radiosim.measure.summary import Summary
from radiosim.measure.tally import Pool, Range, StartTally, joined, pool_of, without_spreads
from radiosim.scenario import Scenario
from radiosim.study.run_points import OnProgress, run_points
from radiosim.vehicle.feedback import flow, simulate

BATCHES, MOST_IN_BATCH = 40, 16
"""About how many batches a run has, and how many starts one has at most."""
QUICK_S = 6_000.0
"""Simulated seconds, summed over transmitters, that are done before a pool of processes has
started."""


def simulate_starts(
    scenario: Scenario,
    *,
    first: int = 0,
    count: int | None = None,
    engine: Engine = "auto",
    workers: int | None = None,
    on_progress: OnProgress | None = None,
    executor: Executor | None = None,
    has_curves: bool = False,
) -> Summary:
    """Summary of `count` starts (the scenario's own number if None) from `first` on.

    Starts run in a pool of processes, or in `executor` if one is given; the result does not
    depend on which. What is kept of a start does not grow with its length. `on_progress(done,
    total)` is called as they begin and as they finish. With `has_curves` it has what a page draws.
    ValueError for a negative `first` or a `count` below one.
    """
    total = scenario.starts if count is None else count
    if first < 0 or total < 1:
        raise ValueError(f"first must be >= 0 and count >= 1, got {first} and {total}")
    starts = Range(first=first, count=total)
    is_quick = executor is None and workers is None and _is_quick(scenario, total, engine)
    whole = run_points(
        functools.partial(pool_batch, scenario, starts, engine=engine),
        batches_of(starts),
        fold=joined_in_turn,
        size_of=len,
        is_ready=True,
        executor=executor,
        workers=1 if is_quick else workers,
        on_progress=on_progress,
    )
    return summary_of_pool(scenario, whole, has_curves=has_curves)


def lasting(scenario: Scenario, hours: float) -> Scenario:
    """The scenario with as many starts as make some hours in all; OptionError for too many."""
    if wrong := RUN_HOURS.refusal(hours):
        raise OptionError(f"--hours: {wrong}")
    starts = max(1, math.ceil(hours * 3600 / scenario.duration_s))
    if starts > STARTS.high:
        raise OptionError(
            f"--hours: must be at most {STARTS.high:,} starts of {scenario.duration_s:g} s "
            f"({STARTS.high * scenario.duration_s / 3600:g} h), got {hours:g} h"
        )
    return msgspec.structs.replace(scenario, starts=starts)


def _is_quick(scenario: Scenario, count: int, engine: Engine) -> bool:
    simulated_s = count * scenario.duration_s * len(scenario.transmitter)
    return simulated_s <= QUICK_S and choose(engine).engine == "fast"


def batches_of(starts: Range) -> tuple[range, ...]:
    """The starts in batches that do not depend on workers: sums are alike to the last bit."""
    size = min(MOST_IN_BATCH, max(1, starts.count // BATCHES))
    end = starts.first + starts.count
    return tuple(range(k, min(k + size, end)) for k in range(starts.first, end, size))


def tally_of(scenario: Scenario, engine: Engine, start: int) -> StartTally:
    """One start, simulated and measured; by the program that the scenario names, if it does."""
    if scenario.receiver.program is not None:
        return tally_program(simulate(scenario, start=start, engine=engine))
    return tally_flow(flow(scenario, start=start, engine=engine))


def tallies_of(scenario: Scenario, starts: range, engine: Engine) -> tuple[StartTally, ...]:
    """Some starts of a point, one after the other: points themselves are spread over workers."""
    return run_points(functools.partial(tally_of, scenario, engine), starts, fold=tuple, workers=1)


def pool_batch(scenario: Scenario, starts: Range, batch: range, engine: Engine) -> Pool:
    """A batch of the starts of a run, simulated and measured."""
    return pool_starts(scenario, starts, [tally_of(scenario, engine, k) for k in batch])


def numbers_of(scenario: Scenario, start: int, engine: Engine) -> dict[str, float]:
    """Every number of the figures that `simulate_starts` has of one start alone, by its path."""
    pool = pool_batch(scenario, Range(first=start, count=1), range(start, start + 1), engine)
    return flat(figures_of(scenario, pool))


def joined_in_turn(pools: Iterable[Pool]) -> Pool:
    """The sum of pools, of which one at a time is held; ValueError if there is none."""
    whole: Pool | None = None
    for pool in pools:
        whole = pool if whole is None else whole + pool
    if whole is None:
        raise ValueError("a run has at least one start")
    return whole


def make_ready(scenario: Scenario, engine: Engine) -> None:
    """Load and compile whatever a start needs, so that other processes find it kept."""
    make_engine_ready(engine, make_plan(scenario, 0), lambda: None)
    make_folds_ready(scenario, engine)


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


class Stopped(msgspec.Struct, frozen=True, kw_only=True):
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
