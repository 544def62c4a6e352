"""A tuning: all points judged, the best of them chosen, and what it relies on said."""

import functools
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from radiosim.engine.choice import Engine
from radiosim.scenario import Scenario
from radiosim.study.runner.journal import Row, digest_of
from radiosim.study.runner.run import OnProgress, run_points
from radiosim.study.tune.influence import first_order
from radiosim.study.tune.point import judged, with_requirements
from radiosim.study.tune.varied import Point, Setting

RUNNERS_UP = 4
ALIKE = 0.01
"""Margins, as shares of the limit, that nobody needs to tell apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One point and its row."""

    values: Point
    row: Row

    @property
    def margin(self) -> float | None:
        """Of the requirement that is nearest to its limit; None: refused, or not measured."""
        margin: float | None = self.row.get("margin")
        return margin

    @property
    def is_near(self) -> bool:
        """Two of its senders meet by drift, sooner or later."""
        return any(pair["is_near"] for pair in self.row.get("pairs", ()))

    @property
    def ok(self) -> bool:
        """Every requirement held in the worst start."""
        return self.margin is not None and self.margin >= 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuned:
    """What came out."""

    scene: str
    settings: tuple[Setting, ...]
    points: tuple[Tried, ...]
    assumed: tuple[str, ...]
    """Requirements that were taken because the scene has none."""
    best: Tried | None
    why: str
    runners_up: tuple[Tried, ...]
    front: tuple[Tried, ...]
    influence: Mapping[str, float]
    starts: int
    duration_s: float


def tuned(
    scenario: Scenario,
    settings: Sequence[Setting],
    points: Sequence[Point],
    *,
    engine: Engine = "auto",
    journal: Path | None = None,
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> Tuned:
    """Judge every point over the scene's own starts, on the same draws."""
    asked, assumed = with_requirements(scenario)
    lines = [
        tuple(setting.line(value) for setting, value in zip(settings, point, strict=True))
        for point in points
    ]
    rows = run_points(
        functools.partial(judged, asked, engine),
        lines,
        digest=digest_of("tune", asked, lines),
        journal=journal,
        executor=executor,
        workers=workers,
        on_progress=on_progress,
    )
    tried = tuple(Tried(values=p, row=row) for p, row in zip(points, rows, strict=True))
    ranked = ranked_of(tried)
    best = ranked[0] if ranked else None
    return Tuned(
        scene=scenario.name,
        settings=tuple(settings),
        points=tried,
        assumed=assumed,
        best=best,
        why=why_of(best, ranked),
        runners_up=tuple(ranked[1 : 1 + RUNNERS_UP]),
        front=front_of(ranked),
        influence=_influence(settings, ranked),
        starts=scenario.starts,
        duration_s=scenario.duration_s,
    )


def ranked_of(tried: Sequence[Tried]) -> list[Tried]:
    """Those that hold and do not meet by drift first, then by margin; the first is the best.

    Margins a hundredth apart are alike: of the best ones that with the least air time leads.
    """

    def order(it: Tried) -> tuple[Any, ...]:
        return (not (it.ok and not it.is_near), -(it.margin or 0.0), it.values)

    ranked = sorted((it for it in tried if it.margin is not None), key=order)
    if not ranked:
        return []
    first = order(ranked[0])
    equals = [it for it in ranked if order(it)[0] == first[0] and order(it)[1] <= first[1] + ALIKE]
    best = min(equals, key=lambda it: (it.row["air_time_share"], it.values))
    return [best, *(it for it in ranked if it is not best)]


def why_of(best: Tried | None, ranked: Sequence[Tried]) -> str:
    """Why this one, in a sentence."""
    if best is None:
        return "no point could be judged"
    assert best.margin is not None
    if not best.ok:
        return (
            "no point holds every requirement; this one misses least, by "
            f"{-100 * best.margin:.0f} % of its limit"
        )
    text = (
        f"of {len(ranked)} points it keeps furthest from the limits, {100 * best.margin:.0f} % of "
        "the nearest one, with the least air time among its equals"
    )
    if best.is_near:
        near = next(pair for pair in best.row["pairs"] if pair["is_near"])
        text += (
            f"; it RELIES on the clocks of {near['first']} and {near['second']} not meeting while "
            f"it matters: their periods are {near['distance_ms']:.3g} ms from a multiple, within "
            f"{near['window_ms']:.3g} ms"
        )
    return text


def front_of(ranked: Sequence[Tried]) -> tuple[Tried, ...]:
    """Points that hold, none of which another beats in latency, air time and charge at once."""

    def cost(it: Tried) -> tuple[float, float, float]:
        row = it.row
        return (row["latency_p99_ms"] or 0.0, row["air_time_share"], row["charge_mah_per_hour"])

    def beats(one: Tried, other: Tried) -> bool:
        pairs = list(zip(cost(one), cost(other), strict=True))
        return all(a <= b for a, b in pairs) and any(a < b for a, b in pairs)

    holding = [it for it in ranked if it.ok]
    return tuple(
        sorted((it for it in holding if not any(beats(other, it) for other in holding)), key=cost)
    )


def _influence(settings: Sequence[Setting], ranked: Sequence[Tried]) -> dict[str, float]:
    """Shares of the margin's variance."""
    margins = [it.margin for it in ranked if it.margin is not None]
    return {
        setting.key: first_order([it.values[k] for it in ranked], margins)
        for k, setting in enumerate(settings)
    }
