"""Points of a tuning in order, the best of them, and why it is the best."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from radiosim.counted import counted
from radiosim.study.tune.tune_results import NOTHING_JUDGED, Tried, clocks_text
from radiosim.study.tune.varied import Value, Values

ALIKE = 0.01
"""Margins, as shares of the limit, that nobody needs to tell apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What makes one point better than another."""

    own: Tried
    """The scenario as it stands."""
    prefer: tuple[str, ...] = ()
    """Streams that come first."""

    def score(self, point: Tried) -> float:
        """Margin of the requirement that is nearest to its limit; with preferred streams, of
        theirs alone, or by what share their values are fresher if they have none."""
        if not self.prefer:
            return point.judged.margin
        return min(self._of_stream(point, name) for name in self.prefer)

    def _of_stream(self, point: Tried, name: str) -> float:
        margin = point.judged.stream[name].margin
        if margin is not None or self.own.figures is None:
            return point.judged.margin if margin is None else margin
        gains = []
        for path in (f"stream.{name}.age_ms.{part}" for part in ("mean", "p99")):
            here = point.judged.worst.get(path)
            if here is None:
                return -math.inf
            # As logarithms: a hundredth is a hundredth however bad it is as it stands.
            gains.append(math.log(self.own.judged.worst.get(path, 1.0) / here))
        return math.fsum(gains) / len(gains)

    def grade(self, point: Tried) -> tuple[int, ...]:
        """What comes before any margin, the lowest best: whether it holds, does not beat, and
        makes no guarded stream worse; how many requirements it misses."""
        figures = point.judged
        is_sound = figures.ok and not point.beating
        is_worse = bool(point.worse)
        return (
            not is_sound or is_worse,
            not is_sound,
            figures.missed,
            is_worse,
            bool(point.beating),
        )

    def is_alike(self, point: Tried, other: Tried) -> bool:
        """Whether nobody needs to tell two points apart."""
        one, two = self.score(point), self.score(other)
        return self.grade(point) == self.grade(other) and (one == two or abs(one - two) <= ALIKE)

    def changes(self, point: Tried) -> int:
        """How many settings differ from the scenario as it stands."""
        return sum(a != b for a, b in zip(point.values, self.own.values, strict=True))


def ranked_of(tried: Sequence[Tried], aim: Aim) -> list[Tried]:
    """The best first: by what they hold, and by margin.

    Margins a hundredth apart are alike: of the best ones that which changes fewest settings leads,
    and of those that with the least air time, or with the freshest values of preferred streams.
    """

    def order(point: Tried) -> tuple[Any, ...]:
        return (*aim.grade(point), -aim.score(point), _place_of(point.values))

    ranked = sorted((point for point in tried if point.figures is not None), key=order)
    if not ranked:
        return []
    best = min(
        (point for point in ranked if aim.is_alike(point, ranked[0])),
        key=lambda equal: (
            aim.changes(equal),
            *(equal.judged.worst.get(f"stream.{n}.age_ms.p99", math.inf) for n in aim.prefer),
            equal.judged.duty_cycle,
            _place_of(equal.values),
        ),
    )
    return [best, *(point for point in ranked if point is not best)]


def _place_of(values: Values) -> tuple[tuple[float, str], ...]:
    """Values to sort by; what the scenario does not say comes first."""

    def place(value: Value | None) -> tuple[float, str]:
        if isinstance(value, str):
            return 0.0, value
        return (-math.inf if value is None else value), ""

    return tuple(map(place, values))


def why_of(best: Tried | None, ranked: Sequence[Tried], aim: Aim, passed_over: int = 0) -> str:
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
            f"of {counted(len(ranked), 'point')}{_chosen_from(best, ranked)} "
            f"{_place(best, ranked, aim, passed_over)}: {_said(nearest, measured)} is nearest to "
            f"its limit, with {100 * figures.margin:.0f} % to spare"
        )
    return f"{'as it stands is best; ' if best.is_own else ''}{text}{_relies_on(best)}"


def _chosen_from(best: Tried, ranked: Sequence[Tried]) -> str:
    """Which points it was chosen from, where that is not just those that were asked for."""
    margin = best.judged.margin
    better = [point for point in ranked if point.ok and point.judged.margin > margin]
    said = ["with the scenario's own"] if any(point.is_own for point in ranked) else []
    if any(point.beating for point in better) and not best.beating:
        said.append("without those whose clocks beat")
    if any(point.worse for point in better) and not best.worse:
        said.append("without those that make a stream worse")
    return f", {', '.join(said)}," if said else ""


def _place(best: Tried, ranked: Sequence[Tried], aim: Aim, passed_over: int) -> str:
    if passed_over:
        did = "1 before it fails" if passed_over == 1 else f"{passed_over} before it fail"
        return f"it comes next, as {did} over the whole scenario"
    if aim.prefer:
        return f"it does most for {' and '.join(aim.prefer)}"
    short = max(map(aim.score, (p for p in ranked if aim.grade(p) == aim.grade(best))), default=0.0)
    short -= aim.score(best)
    if short <= ALIKE:
        return "it keeps furthest from the limits"
    return (
        f"it keeps as far from the limits as the furthest, to {100 * short:.0f} % of a limit, and "
        "changes nothing that explains nothing"
    )


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
    """Points that hold, none of which another beats in age, air time and charge at once."""
    holding = [point for point in ranked if point.ok and point.judged.age_p99_ms is not None]
    front: list[tuple[tuple[float, float, float], Tried]] = []
    for point in sorted(holding, key=lambda held: (_cost(held), _place_of(held.values))):
        cost = _cost(point)
        # What comes later in this order beats nothing that came before.
        if not any(_beats(other, cost) for other, _ in front):
            front.append((cost, point))
    return tuple(point for _, point in front)


def _cost(point: Tried) -> tuple[float, float, float]:
    figures = point.judged
    age_ms = math.inf if figures.age_p99_ms is None else figures.age_p99_ms
    charge_mah = math.inf if figures.charge_mah_per_hour is None else figures.charge_mah_per_hour
    return age_ms, figures.duty_cycle, charge_mah


def _beats(one: Sequence[float], other: Sequence[float]) -> bool:
    pairs = list(zip(one, other, strict=True))
    return all(a <= b for a, b in pairs) and any(a < b for a, b in pairs)
