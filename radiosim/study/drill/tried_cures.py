"""Cures are tried: everything is drilled again with all of them, and what does not help goes."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from radiosim.errors import ScenarioError
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.study.drill.cures import (
    STRETCHED,
    Failure,
    cures_for,
    failures_of,
    instead_of_a_setting,
    not_cured,
)
from radiosim.study.drill.drill_kinds import Drill
from radiosim.study.drill.results import Cure, DrillFigures, Uncured

DrillAgain = Callable[[Scenario], Sequence[DrillFigures]]
"""All drills of another scenario."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedCures:
    """What was tried, and what no setting cures."""

    cures: tuple[Cure, ...]
    """Each line once; with all of them no failure but those of `uncured` is left."""
    uncured: tuple[Uncured, ...]


def tried_cures(
    scenario: Scenario,
    drills: Sequence[Drill],
    figures: Sequence[DrillFigures],
    asked: Sequence[Cure],
    drill_again: DrillAgain,
) -> TriedCures:
    """A set of lines that cures all failures of a drill together, as far as settings can.

    `asked`: lines that something else than a failure asks for; they are tried with the others.
    """
    # How often each failure was tried to be cured; those that no line cures stay among them.
    tries = dict.fromkeys(failures_of(scenario, drills, figures), 0)
    while True:
        curable = {one: tried for one, tried in tries.items() if _lines(scenario, one, tried)}
        cures = _together(scenario, asked, curable)
        if not cures:
            break
        cured = changed(scenario, [cure.set for cure in cures])
        shown = drill_again(cured)
        # An output that comes alive with a cure alone may show failures of its own.
        new = [one for one in failures_of(cured, drills, shown) if one not in tries]
        left = not_cured(cured, drills, shown, curable)
        if not left and not new:
            break
        tries |= {one: tries[one] + 1 for one in left} | dict.fromkeys(new, 0)
    uncured = tuple(
        Uncured(
            fault=one.drill.told_as,
            unit=one.drill.unit,
            output=one.output,
            instead=instead_of_a_setting(scenario, one),
        )
        for one in tries
        if one not in curable
    )
    return TriedCures(cures=cures, uncured=uncured)


def _lines(scenario: Scenario, failure: Failure, tried: int) -> tuple[Cure, ...]:
    """What to try next for a failure; none if nothing is left, or it makes no sound scenario."""
    if tried >= len(STRETCHED):
        return ()
    cures = cures_for(scenario, failure, STRETCHED[tried])
    if tried and cures == cures_for(scenario, failure, STRETCHED[tried - 1]):
        return ()
    return cures if _is_sound(scenario, cures) else ()


def _together(
    scenario: Scenario, asked: Sequence[Cure], tries: dict[Failure, int]
) -> tuple[Cure, ...]:
    """All lines, each key once: of two values that of the failure that was tried more often.

    Those that the others leave no room for are left out, and their failures stay.
    """
    found = {_key(cure): cure for cure in asked}
    for one, tried in sorted(tries.items(), key=lambda pair: pair[1]):
        more = {**found, **{_key(cure): cure for cure in _lines(scenario, one, tried)}}
        if _is_sound(scenario, more.values()):
            found = more
    return tuple(found.values())


def _key(cure: Cure) -> str:
    return cure.set.partition("=")[0]


def _is_sound(scenario: Scenario, cures: Iterable[Cure]) -> bool:
    try:
        changed(scenario, [cure.set for cure in cures])
    except ScenarioError:
        return False
    return True
