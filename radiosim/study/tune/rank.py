"""Points of a tuning in order, the best of them, and why it is the best."""

import math
from collections.abc import Sequence
from typing import Any

from radiosim.counted import counted
from radiosim.study.tune.tune_results import NOTHING_JUDGED, Tried, clocks_text
from radiosim.study.tune.varied import Values

ALIKE = 0.01
"""Margins, as shares of the limit, that nobody needs to tell apart."""


def ranked_of(tried: Sequence[Tried]) -> list[Tried]:
    """Those that hold and do not beat first, then by requirements missed, and by margin.

    Margins a hundredth apart are alike: of the best ones that with the least air time leads, as
    the first; as the scenario stands before others.
    """

    def order(point: Tried) -> tuple[Any, ...]:
        figures = point.judged
        is_sound = figures.ok and not point.beating
        return (not is_sound, figures.missed, -figures.margin, _place_of(point.values))

    ranked = sorted((point for point in tried if point.figures is not None), key=order)
    if not ranked:
        return []
    first = order(ranked[0])
    equals = [
        point
        for point in ranked
        if order(point)[:2] == first[:2] and order(point)[2] <= first[2] + ALIKE
    ]
    best = min(
        equals,
        key=lambda equal: (equal.judged.duty_cycle, not equal.is_own, _place_of(equal.values)),
    )
    return [best, *(point for point in ranked if point is not best)]


def _place_of(values: Values) -> tuple[float, ...]:
    """Values to sort by; what the scenario has no number for comes first."""
    return tuple(-math.inf if value is None else value for value in values)


def why_of(best: Tried | None, ranked: Sequence[Tried], passed_over: int = 0) -> str:
    """Why this one, in a sentence or two.

    `passed_over`: how many before it did not hold over the whole scenario.
    """
    if best is None:
        return NOTHING_JUDGED
    figures = best.judged
    nearest, measured = figures.nearest, figures.measured[figures.nearest]
    if not best.ok:
        text = (
            f"no point holds every requirement; of {len(ranked)} this one misses least, "
            f"{figures.missed} of them, by as much as {-100 * figures.margin:.0f} % of the limit: "
            f"{_said(nearest, measured)}"
        )
    else:
        text = (
            f"of {counted(len(ranked), 'point')}{_chosen_from(best, ranked)} {_place(passed_over)}"
            f": {_said(nearest, measured)} is nearest to its limit, with "
            f"{100 * figures.margin:.0f} % to spare"
        )
    return f"{'as it stands is best; ' if best.is_own else ''}{text}{_relies_on(best)}"


def _chosen_from(best: Tried, ranked: Sequence[Tried]) -> str:
    """Which points it was chosen from, where that is not just those that were asked for."""
    margin = best.judged.margin
    is_beaten = any(point.beating and point.ok and point.judged.margin > margin for point in ranked)
    said = ["with the scenario's own"] if any(point.is_own for point in ranked) else []
    said += ["without those whose clocks beat"] if is_beaten and not best.beating else []
    return f", {' and '.join(said)}," if said else ""


def _place(passed_over: int) -> str:
    if passed_over:
        did = "1 before it does not" if passed_over == 1 else f"{passed_over} before it do not"
        return f"it comes next, as {did} hold over the whole scenario"
    return "it keeps furthest from the limits, with the least air time among its equals"


def _said(figure: str, measured: float | None) -> str:
    return f"{figure} ({'nothing measured' if measured is None else f'{measured:.3g}'})"


def _relies_on(best: Tried) -> str:
    """What a point relies on whose transmitters beat."""
    if not best.beating:
        return ""
    often = min(best.beating, key=lambda pair: pair.every_s or 0.0)
    whose = "their periods"
    if len(best.beating) > 1:
        whose = f"most often {often.first} and {often.second}, whose periods"
    pairs = tuple((pair.first, pair.second) for pair in best.beating)
    text = (
        f"; it RELIES on {clocks_text(pairs)} not beating while it matters: {whose} are "
        f"{often.distance_ms:.3g} ms from a multiple, within {often.window_ms:.3g} ms"
    )
    if often.every_s is not None:
        text += (
            f", so that they beat as often as every {often.every_s:.3g} s, for "
            f"{often.burst_frames:.0f} frames in a row or more"
        )
    return text


def pareto_front_of(ranked: Sequence[Tried]) -> tuple[Tried, ...]:
    """Points that hold, none of which another beats in latency, air time and charge at once."""
    holding = [point for point in ranked if point.ok and point.judged.latency_p99_ms is not None]
    front: list[tuple[tuple[float, float, float], Tried]] = []
    for point in sorted(holding, key=lambda held: (_cost(held), _place_of(held.values))):
        cost = _cost(point)
        # What comes later in this order beats nothing that came before.
        if not any(_beats(other, cost) for other, _ in front):
            front.append((cost, point))
    return tuple(point for _, point in front)


def _cost(point: Tried) -> tuple[float, float, float]:
    figures = point.judged
    latency_ms = math.inf if figures.latency_p99_ms is None else figures.latency_p99_ms
    charge_mah = math.inf if figures.charge_mah_per_hour is None else figures.charge_mah_per_hour
    return latency_ms, figures.duty_cycle, charge_mah


def _beats(one: Sequence[float], other: Sequence[float]) -> bool:
    pairs = list(zip(one, other, strict=True))
    return all(a <= b for a, b in pairs) and any(a < b for a, b in pairs)
