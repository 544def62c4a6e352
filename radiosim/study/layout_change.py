"""What another layout does to a link: both simulated on the same draws, start by start."""

import functools
import math
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from statistics import stdev

from msgspec import Struct

from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.simulate import Engine
from radiosim.errors import OptionError, ScenarioError
from radiosim.measure.figures import start_figures
from radiosim.measure.intervals import about_mean
from radiosim.measure.summarise import reactions_of
from radiosim.measure.tally import Range
from radiosim.registers.figure import Ratio
from radiosim.registers.figure_register import figure_at, is_rate
from radiosim.scenario import Scenario
from radiosim.scenario.changed import streams_with, with_layout
from radiosim.scenario.named_layout import NamedLayout
from radiosim.study.amount import OnAmounts, amount_of_starts
from radiosim.study.run_points import OnProgress, run_points
from radiosim.study.starts import batches_of, make_ready, tally_of
from radiosim.vehicle.reaction_bound import with_slowest_clock

Weighed = tuple[float, dict[str, float]]
"""How much a start counts, and its figures by path."""
Pair = tuple[Weighed, Weighed]
_PLACES = ("longest_gap_at_s", "longest_gap_start")
"""Where something was, not how much: a difference of them means nothing."""


class Change(Struct, frozen=True, kw_only=True):
    """One figure before and after, each the mean over starts."""

    old: float
    new: float
    difference: float
    difference_ci95: tuple[float, float] | None
    """Over starts, paired: both had the same draws; None below two starts, and of a rate of events
    of which none came."""


class FrameTime(Struct, frozen=True, kw_only=True):
    """Time on air of a frame, before and after."""

    old: float
    new: float


class Bound(Struct, frozen=True, kw_only=True):
    """Longest time until an output is on failsafe, before and after; None: no bound."""

    old_ms: float | None
    new_ms: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutChange:
    """What became of a link whose streams got another layout."""

    scenario: str
    streams: tuple[str, ...]
    """Streams whose layout changed."""
    starts: int
    duration_s: float
    frame_us: Mapping[str, FrameTime]
    """Times on air by changed stream."""
    figures: Mapping[str, Change]
    """Changes by path of a figure."""
    bound_ms: Mapping[str, Bound]
    """Reaction bounds by output."""
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkChange:
    """What a scenario says of another layout."""

    change: LayoutChange | None = None
    refusal: str = ""
    """Why the link cannot be simulated with the new layout."""
    seed: int
    """Of the scenario."""


def link_change(
    scenario: Scenario,
    old: NamedLayout,
    new: NamedLayout,
    asked: Sequence[str] = (),
    *,
    engine: Engine = "auto",
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
    on_amounts: OnAmounts = lambda _: None,
) -> LinkChange:
    """Both layouts in a scenario, for the streams asked for or all that have the old one.

    OptionError or ScenarioError for what cannot be simulated at all. A new layout that makes no
    sound link is no error: that is what was to be found out.
    """
    streams = _streams(scenario, old, asked)
    key = scenario.transmitter[streams[0]].layout
    if key.startswith("plain_"):
        key = old.layout.name
    before, _ = with_layout(scenario, streams, old, key)
    try:
        after, notes = with_layout(scenario, streams, new, key)
    except ScenarioError as error:
        return LinkChange(refusal=str(error), seed=scenario.seed)
    lasts_s = scenario.starts * scenario.duration_s
    on_amounts([amount_of_starts(one, lasts_s, engine) for one in (before, after)])
    change = layout_change(
        before,
        after,
        streams,
        notes=notes,
        engine=engine,
        executor=executor,
        workers=workers,
        on_progress=on_progress,
    )
    return LinkChange(change=change, seed=scenario.seed)


def _streams(scenario: Scenario, old: NamedLayout, asked: Sequence[str]) -> tuple[str, ...]:
    known = ", ".join(scenario.transmitter)
    for name in asked:
        if name not in scenario.transmitter:
            raise OptionError(f"--stream: must be one of {known}, got '{name}'")
    streams = tuple(asked) or streams_with(scenario, old)
    if not streams:
        raise OptionError(
            f"--scenario: must have a stream whose layout is {old.layout.name}, or say whose "
            f"frames change with --stream ({known})"
        )
    return streams


def layout_change(
    old: Scenario,
    new: Scenario,
    streams: tuple[str, ...],
    *,
    notes: tuple[str, ...] = (),
    engine: Engine = "auto",
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> LayoutChange:
    """Simulate every start of a scenario with both layouts; as many starts as the old scenario has.

    Same seed, same starts: whatever does not hang on the layout is drawn alike.
    """
    starts = Range(first=0, count=old.starts)
    make_ready(old, engine)
    batches = run_points(
        functools.partial(_batch, old, new, starts, engine),
        batches_of(starts),
        fold=tuple,
        size_of=len,
        is_ready=True,
        executor=executor,
        workers=workers,
        on_progress=on_progress,
    )
    plans = make_plan(old, 0), make_plan(new, 0)
    return LayoutChange(
        scenario=old.name,
        streams=streams,
        starts=starts.count,
        duration_s=old.duration_s,
        frame_us={
            name: FrameTime(old=_frame_us(plans[0], name), new=_frame_us(plans[1], name))
            for name in streams
        },
        figures=changes_of([pair for batch in batches for pair in batch]),
        bound_ms=_bounds(old, new),
        notes=notes,
    )


def _frame_us(plan: Plan, stream: str) -> float:
    return plan.tx[plan.streams.index(stream)].frame_ns / 1e3


def _batch(old: Scenario, new: Scenario, starts: Range, engine: Engine, batch: range) -> list[Pair]:
    return [
        (_of_start(old, starts, start, engine), _of_start(new, starts, start, engine))
        for start in batch
    ]


def _of_start(scenario: Scenario, starts: Range, start: int, engine: Engine) -> Weighed:
    tally = tally_of(scenario, engine, start)
    return starts.weight(tally), start_figures(scenario, tally)


def changes_of(pairs: Sequence[Pair]) -> dict[str, Change]:
    """The change of every figure that all starts have, before and after."""
    first, *others = [figures for pair in pairs for _, figures in pair]
    paths = [
        path
        for path in first
        if not path.endswith(_PLACES) and all(path in figures for figures in others)
    ]
    return {path: _change(path, [_values(pair, path) for pair in pairs]) for path in paths}


Values = tuple[float, float, float, float]
"""Weight and value before, weight and value after."""


def _values(pair: Pair, path: str) -> Values:
    (weight, figures), (new_weight, new_figures) = pair
    return weight, float(figures[path]), new_weight, float(new_figures[path])


def _change(path: str, rows: Sequence[Values]) -> Change:
    """Difference of two weighted means over the same starts."""
    weight = math.fsum(row[0] for row in rows), math.fsum(row[2] for row in rows)
    old = math.fsum(row[0] * row[1] for row in rows) / weight[0]
    new = math.fsum(row[2] * row[3] for row in rows) / weight[1]
    n = len(rows)
    interval = None
    if n > 1:
        off = [
            n * (w_new * (v_new - new) / weight[1] - w_old * (v_old - old) / weight[0])
            for w_old, v_old, w_new, v_new in rows
        ]
        more = _one_more(path, rows, off, n * max(row[2] for row in rows) / weight[1])
        if more is not None:
            low, high = about_mean(off, *more)
            interval = (new - old + low, new - old + high)
    return Change(old=old, new=new, difference=new - old, difference_ci95=interval)


_OF_MANY = 0.25
"""Part of the spread of starts by which a ratio or mean of many may be off in one more start: the
least that covers as often as an interval says, counted in tests/study/coverage."""


def _one_more(
    path: str, rows: Sequence[Values], off: Sequence[float], most: float
) -> tuple[float, float] | None:
    """How far off one more start may be, either way; None: nothing at hand tells.

    As far as any of those at hand, and a part of how far starts of one layout lie from their mean,
    all of it if the figure jumps: that the same draws make some starts alike before and after does
    not say that they always do. `most`: how much a start counts at most.
    """
    apart = most * max(stdev(row[k] for row in rows) for k in (1, 3))
    if is_rate(path) and apart == 0:
        return None
    part = apart if _jumps(path) else _OF_MANY * apart
    return min(-part, *off), max(part, *off)


def _jumps(path: str) -> bool:
    """Whether a figure of a start is an extreme or a count, and no ratio or mean of many."""
    at = figure_at(path)
    if at is None or at[1] == "mean":
        return False
    return is_rate(path) or not isinstance(at[0].pool, Ratio)


def _bounds(old: Scenario, new: Scenario) -> dict[str, Bound]:
    found = [
        {
            output: bound
            for reaction in reactions_of(
                scenario, make_plan(with_slowest_clock(scenario), 0)
            ).values()
            for output, bound in reaction.bound_ms.items()
        }
        for scenario in (old, new)
    ]
    return {name: Bound(old_ms=bound, new_ms=found[1][name]) for name, bound in found[0].items()}
