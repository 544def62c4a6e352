"""Settings of a good point put back to what they are, as long as that makes no difference."""

from collections.abc import Callable, Mapping, Sequence

from radiosim.study.tune.influence import Influence
from radiosim.study.tune.rank import ALIKE, Aim
from radiosim.study.tune.tune_results import Change, Tried
from radiosim.study.tune.varied import Setting, Values

NIL = 0.01
"""A setting that explains less of the variance than this explains nothing to speak of."""
NIL_LOSS = 0.05
"""Of a limit: what may be lost by putting such a setting back. Shares are of all points, so that a
small one may still count at the best."""


def explains(share: Influence) -> bool:
    """Whether a setting explains something of how points differ, by itself or with others."""
    return (share.first_order if share.total is None else share.total) >= NIL


def settled(
    best: Tried,
    aim: Aim,
    settings: Sequence[Setting],
    shares: Mapping[str, Influence],
    judge: Callable[[Values], Tried],
) -> Tried:
    """The point with every setting put back that makes no difference, the least weighty first.

    It holds, beats and guards as the point does, or better. What remains changed loses something
    if it alone is put back.
    """
    nil = {k for k, s in enumerate(settings) if s.key in shares and not explains(shares[s.key])}
    first, now, was = best, best, aim.own
    while now is not was:
        was = now
        for number in _lightest_first(settings, shares):
            if now.values[number] == aim.own.values[number]:
                continue
            candidate = judge(without(now.values, aim.own.values, number))
            if _is_as_good(candidate, now, first, aim, NIL_LOSS if number in nil else ALIKE):
                first = first if aim.grade(candidate) == aim.grade(first) else candidate
                now = candidate
    return now


def _is_as_good(candidate: Tried, now: Tried, first: Tried, aim: Aim, allowed: float) -> bool:
    """Whether a point is of a better grade than that of now, or of the same and loses no more than
    allowed against the first of that grade."""
    if candidate.figures is None:
        return False
    if aim.grade(candidate) != aim.grade(now):
        return aim.grade(candidate) < aim.grade(now)
    return aim.score(candidate) >= min(aim.score(first) - allowed, aim.score(now))


def _lightest_first(settings: Sequence[Setting], shares: Mapping[str, Influence]) -> Sequence[int]:
    """Numbers of the settings, those that explain least first."""

    def weight(number: int) -> float:
        share = shares.get(settings[number].key)
        return 0.0 if share is None else share.first_order if share.total is None else share.total

    return sorted(range(len(settings)), key=weight)


def without(values: Values, own: Values, number: int) -> Values:
    """Some values with one of them put back to the scenario's own."""
    return (*values[:number], own[number], *values[number + 1 :])


def changes_of(best: Tried, own: Values, settings: Sequence[Setting]) -> tuple[Change, ...]:
    """The settings that a point changes."""
    return tuple(
        Change(key=setting.key, without=without(best.values, own, number))
        for number, setting in enumerate(settings)
        if best.values[number] != own[number]
    )
