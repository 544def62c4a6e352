"""One point of a tuning: a scenario with some settings, judged over its starts."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from radiosim.engine.choice import Engine
from radiosim.engine.simulate import flow
from radiosim.errors import ScenarioError
from radiosim.measure.figures import figures_of
from radiosim.measure.of_start import figures_at
from radiosim.measure.pool import Pool, Range, joined, pool_of
from radiosim.measure.requirements import judge, worst_of
from radiosim.measure.start import tally_flow
from radiosim.measure.summary import RequirementFigures, StreamFigures, Worst
from radiosim.measure.tally import StartTally
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.study.sequential import Narrow, until_narrow
from radiosim.study.tune.cause import BEAT, COLLISION, DEAF, cause_of
from radiosim.study.tune.margin import margin_of
from radiosim.study.tune.pairs import Pair, clash_share_of, pairs_of
from radiosim.study.tune.wanted import lean

OF_STREAM = (
    "update_rate_hz",
    "delivery_ratio",
    "latency_ms.p99",
    "gap_ms.max",
    "failsafe.nuisance_per_hour",
)
"""Figures of every stream that are told of the worst start."""


def judged(
    scenario: Scenario, engine: Engine, narrow: Narrow | None, lines: tuple[str, ...]
) -> Mapping[str, Any]:
    """The row of one point; a scenario that its settings make unsound is a row too, refused.

    As many starts as the scenario has; with `narrow`, as many of them as that takes.
    """
    try:
        tried = lean(changed(scenario, lines), *([] if narrow is None else [narrow.figure]))
    except ScenarioError as error:
        return {"refused": str(error)}
    if narrow is None:
        tallies = tuple(
            tally_flow(flow(tried, start=k, engine=engine)) for k in range(tried.starts)
        )
        stopped = {}
    else:
        found = until_narrow(tried, narrow, tried.starts, engine=engine)
        tallies = found.tallies
        stopped = {"interval": found.interval, "is_narrow": found.is_narrow}
    return {"refused": "", "starts": len(tallies), **stopped, **_measured(tried, tallies)}


def _measured(tried: Scenario, tallies: Sequence[StartTally]) -> dict[str, Any]:
    told = {f"stream.{name}.{figure}" for name in tried.transmitter for figure in OF_STREAM}
    told |= {it.figure for it in tried.requirement}
    starts = Range(first=0, count=len(tallies))
    pool = joined(
        [
            pool_of(
                tally,
                starts.weight(tally),
                figures_at(tried, tally, told),
            )
            for tally in tallies
        ]
    )
    figures = figures_of(tried, pool)
    requirements = judge(tried, pool.extremes, len(tallies), math.inf)
    margins = [margin_of(it) for it in requirements]
    margin = min(margins)
    worst_one = requirements[margins.index(margin)]
    nearest = worst_one.figure
    pairs = pairs_of(tried)
    worst = worst_of(pool.extremes)
    return {
        "margin": margin,
        "missed": sum(it < 0 for it in margins),
        "nearest": nearest,
        "cause": "" if margin >= 0 else _cause(tried, worst_one, pool, pairs),
        "measured": {it.figure: it.measured for it in requirements},
        "worst": {path: it.value for path, it in worst.items()},
        "duty_cycle": sum(it.duty_cycle for it in figures.stream.values()),
        "charge_mah_per_hour": sum(it.charge_mah_per_hour for it in figures.stream.values()),
        "latency_p99_ms": _slowest(tried, worst),
        "streams": {
            name: {
                **_stream(it),
                "clash_share": _clash_share(pool, name),
                "predicted_clash_share": clash_share_of(pairs, name),
            }
            for name, it in figures.stream.items()
        },
        "pairs": [_told(pair) for pair in pairs],
    }


def _slowest(tried: Scenario, worst: Mapping[str, Worst]) -> float | None:
    """Latency of the slowest stream; None if one was never read."""
    found = [worst.get(f"stream.{name}.latency_ms.p99") for name in tried.transmitter]
    there = [it.value for it in found if it is not None]
    return max(there) if len(there) == len(found) else None


def _clash_share(pool: Pool, stream: str) -> float | None:
    """Share of attempts that met another's, or found the receiver deaf; starts weighted."""
    rows = [row.streams[stream] for row in pool.rows]
    attempts = sum(w * it.attempts for w, it in zip(pool.weights, rows, strict=True))
    clashes = sum(
        w * (it.lost_collision + it.lost_deaf) for w, it in zip(pool.weights, rows, strict=True)
    )
    return clashes / attempts if attempts else None


def _told(pair: Pair) -> dict[str, Any]:
    row: dict[str, Any] = msgspec.to_builtins(pair)
    return row | {"burst_frames": pair.burst_frames if math.isfinite(pair.burst_frames) else None}


def _stream(figures: StreamFigures) -> dict[str, float | None]:
    """Of all starts together."""
    timer = figures.failsafe
    return {
        "update_rate_hz": figures.update_rate_hz,
        "delivery_ratio": figures.delivery_ratio,
        "longest_gap_ms": figures.gap_ms.max,
        "latency_p99_ms": figures.latency_ms.p99,
        "nuisance_per_hour": None if timer is None else timer.nuisance_per_hour,
    }


def _cause(tried: Scenario, missed: RequirementFigures, pool: Pool, pairs: Sequence[Pair]) -> str:
    """Of a missed requirement, in the start that misses it most."""
    extreme = pool.extremes.get(missed.figure)
    is_floor = missed.at_least is not None
    start = 0 if extreme is None else extreme.low_start if is_floor else extreme.high_start
    outputs = {name: it.stream for name, it in tried.output.items()}
    cause = cause_of(missed.figure, pool.rows[start].streams, outputs)
    meet = any(pair.is_near for pair in pairs) and cause in (COLLISION, DEAF)
    return BEAT if meet else cause
