"""Points of a tuning in order, the best of them, and why it is the best."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from radiosim.counted import counted
from radiosim.study.journal import Row
from radiosim.study.tune.varied import Point

ALIKE = 0.01
"""Margins, as shares of the limit, that nobody needs to tell apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One point and its row."""

    values: Point
    """NaN where the scenario has no number, as it stands."""
    row: Row
    stands: bool = False
    """Whether these are the scenario's own settings."""

    @property
    def margin(self) -> float | None:
        """Of the requirement that is nearest to its limit; None: refused."""
        margin: float | None = self.row.get("margin")
        return margin

    @property
    def near(self) -> tuple[Row, ...]:
        """Every pair of its transmitters that beats, sooner or later."""
        return tuple(pair for pair in self.row.get("pairs", ()) if pair["is_near"])

    @property
    def is_near(self) -> bool:
        """Two of its transmitters beat."""
        return bool(self.near)

    @property
    def ok(self) -> bool:
        """Every requirement held in the worst start."""
        return self.margin is not None and self.margin >= 0


def ranked_of(tried: Sequence[Tried]) -> list[Tried]:
    """Those that hold and do not beat first, then by requirements missed, and by margin.

    Margins a hundredth apart are alike: of the best ones that with the least air time leads, as
    the first; as the scenario stands before others.
    """

    def order(tried: Tried) -> tuple[Any, ...]:
        return (
            not (tried.ok and not tried.is_near),
            tried.row["missed"],
            -(tried.margin or 0.0),
            tried.values,
        )

    ranked = sorted((point for point in tried if point.margin is not None), key=order)
    if not ranked:
        return []
    first = order(ranked[0])
    equals = [
        point
        for point in ranked
        if order(point)[:2] == first[:2] and order(point)[2] <= first[2] + ALIKE
    ]
    best = min(equals, key=lambda point: (point.row["duty_cycle"], not point.stands, point.values))
    return [best, *(point for point in ranked if point is not best)]


def why_of(best: Tried | None, ranked: Sequence[Tried], passed_over: int = 0) -> str:
    """Why this one, in a sentence or two.

    `passed_over`: how many before it did not hold over the whole scenario.
    """
    if best is None:
        return "no point could be judged"
    assert best.margin is not None
    nearest, measured = best.row["nearest"], best.row["measured"][best.row["nearest"]]
    if not best.ok:
        text = (
            f"no point holds every requirement; of {len(ranked)} this one misses least, "
            f"{best.row['missed']} of them, by as much as {-100 * best.margin:.0f} % of the limit: "
            f"{_said(nearest, measured)}"
        )
    else:
        text = (
            f"of {counted(len(ranked), 'point')}{_chosen_from(best, ranked)} {_place(passed_over)}"
            f": {_said(nearest, measured)} is nearest to its limit, with "
            f"{100 * best.margin:.0f} % to spare"
        )
    return f"{'as it stands is best; ' if best.stands else ''}{text}{_relies_on(best)}"


def _chosen_from(best: Tried, ranked: Sequence[Tried]) -> str:
    """Which points it was chosen from, where that is not just those that were asked for."""
    margin = best.margin or 0.0
    is_beaten = any(
        point.is_near and point.ok and (point.margin or 0.0) > margin for point in ranked
    )
    said = ["with the scenario's own"] if any(point.stands for point in ranked) else []
    said += ["without those whose clocks beat"] if is_beaten and not best.is_near else []
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
    if not best.is_near:
        return ""
    often = min(best.near, key=lambda pair: pair["every_s"] or 0.0)
    whose = "their periods"
    if len(best.near) > 1:
        whose = f"most often {often['first']} and {often['second']}, whose periods"
    text = (
        f"; it RELIES on {beating_clocks(best)} not beating while it matters: {whose} are "
        f"{often['distance_ms']:.3g} ms from a multiple, within {often['window_ms']:.3g} ms"
    )
    if often["every_s"] is not None:
        text += (
            f", so that they meet as often as every {often['every_s']:.3g} s, for "
            f"{often['burst_frames']:.0f} frames in a row or more"
        )
    return text


def beating_clocks(tried: Tried) -> str:
    """Whose clocks beat by drift, every pair named: `the clocks of a and b, of b and c`."""
    pairs = [f"of {pair['first']} and {pair['second']}" for pair in tried.near]
    return f"the clocks {', '.join(pairs)}"


def front_of(ranked: Sequence[Tried]) -> tuple[Tried, ...]:
    """Points that hold, none of which another beats in latency, air time and charge at once."""
    holding = [point for point in ranked if point.ok and point.row["latency_p99_ms"] is not None]
    front: list[tuple[tuple[float, float, float], Tried]] = []
    for entry in sorted(holding, key=lambda point: (_cost(point), point.values)):
        cost = _cost(entry)
        # What comes later in this order beats nothing that came before.
        if not any(_beats(other, cost) for other, _ in front):
            front.append((cost, entry))
    return tuple(point for _, point in front)


def _cost(tried: Tried) -> tuple[float, float, float]:
    row = tried.row
    return (row["latency_p99_ms"], row["duty_cycle"], row["charge_mah_per_hour"])


def _beats(one: Sequence[float], other: Sequence[float]) -> bool:
    pairs = list(zip(one, other, strict=True))
    return all(a <= b for a, b in pairs) and any(a < b for a, b in pairs)
