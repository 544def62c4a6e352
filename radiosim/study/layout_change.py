"""What another layout does to a link: both simulated on the same draws, start by start."""

import functools
import math
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from msgspec import Struct

from radiosim.engine.choice import Engine
from radiosim.engine.plan import Plan, make_plan
from radiosim.measure.figures import start_figures
from radiosim.measure.summarise import stopping_of
from radiosim.measure.tally import Range
from radiosim.scenario import Scenario
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
    """Over starts, paired: both had the same draws; None below two starts."""


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
    return {path: _change([_values(pair, path) for pair in pairs]) for path in paths}


Values = tuple[float, float, float, float]
"""Weight and value before, weight and value after."""


def _values(pair: Pair, path: str) -> Values:
    (weight, figures), (new_weight, new_figures) = pair
    return weight, float(figures[path]), new_weight, float(new_figures[path])


def _change(rows: Sequence[Values]) -> Change:
    """Difference of two weighted means over the same starts.

    Interval: linearised ratio estimator over paired starts (W. G. Cochran, "Sampling Techniques",
    3rd ed., 1977, 2.11, from memory), Student's t.
    """
    weight = sum(row[0] for row in rows), sum(row[2] for row in rows)
    old = sum(row[0] * row[1] for row in rows) / weight[0]
    new = sum(row[2] * row[3] for row in rows) / weight[1]
    interval = None
    n = len(rows)
    if n > 1:
        from scipy.special import stdtrit  # noqa: PLC0415 - scipy loads slowly

        parts = [
            n * (w_new * (v_new - new) / weight[1] - w_old * (v_old - old) / weight[0])
            for w_old, v_old, w_new, v_new in rows
        ]
        error = math.sqrt(sum(part * part for part in parts) / (n - 1) / n)
        half = float(stdtrit(n - 1, 0.975)) * error
        interval = (new - old - half, new - old + half)
    return Change(old=old, new=new, difference=new - old, difference_ci95=interval)


def _bounds(old: Scenario, new: Scenario) -> dict[str, Bound]:
    found = [
        {
            output: bound
            for stopping in stopping_of(
                scenario, make_plan(with_slowest_clock(scenario), 0)
            ).values()
            for output, bound in stopping.bound_ms.items()
        }
        for scenario in (old, new)
    ]
    return {name: Bound(old_ms=bound, new_ms=found[1][name]) for name, bound in found[0].items()}
