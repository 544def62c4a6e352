"""What explains figures that did not hold: settings fitted to the log, each proved by reruns."""

import math
from collections.abc import Mapping, Sequence

from msgspec import Struct

from radiosim.errors import ScenarioError
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.study.fit.candidates import candidates
from radiosim.study.fit.figure import Figure, Values
from radiosim.study.fit.judged import Judged, chance_of
from radiosim.study.fit.setting import RERUN_STARTS, Setting, Simulated

_EXPLAINED = 0.05
"""Chance of a figure above which a setting explains it."""


class Explanation(Struct, frozen=True, kw_only=True):
    """A setting, and the figures that hold with it."""

    setting: Setting
    explains: tuple[str, ...]
    """Keys of figures that did not hold and do with it."""
    breaks: tuple[str, ...]
    """Keys of figures that held and do not with it."""


def explanations(
    scenario: Scenario,
    figures: Mapping[str, Figure],
    rows: Sequence[Judged],
    simulated: Simulated,
) -> tuple[Explanation, ...]:
    """Settings that explain figures which did not hold, the best first; empty if all held.

    Each is fitted to the log, and the scenario run again with it alone.
    """
    missed = [row.key for row in rows if not row.is_held]
    if not missed:
        return ()
    found = []
    for setting in candidates(scenario, figures, rows, simulated):
        try:
            again = changed(scenario, setting.lines)
        except ScenarioError:
            continue
        values = simulated(again, RERUN_STARTS)
        fits = fitting(rows, values)
        explains = tuple(key for key in missed if fits[key])
        # One of twenty falls outside by chance: what was inside must be far outside to count.
        breaks = tuple(row.key for row in rows if row.is_held and not fits[row.key])
        if explains:
            found.append(Explanation(setting=setting, explains=explains, breaks=breaks))
    return tuple(sorted(found, key=lambda one: (-len(one.explains), len(one.breaks))))


def fitting(rows: Sequence[Judged], values: Sequence[Values]) -> dict[str, bool]:
    """Whether each figure lies where those of simulated logs do."""
    return {
        row.key: chance_of(
            row.measured, [one.get(row.key, -math.inf) for one in values], row.resolution, row.slack
        )
        > _EXPLAINED
        for row in rows
    }


def together(found: Sequence[Explanation]) -> tuple[Explanation, ...]:
    """The best explanation, and of the others those that explain what none before does."""
    chosen: list[Explanation] = []
    done: set[str] = set()
    keys: set[str] = set()
    for one in found:
        own = {line.partition("=")[0] for line in one.setting.lines}
        if not done.issuperset(one.explains) and not keys & own:
            chosen.append(one)
            done.update(one.explains)
            keys |= own
    return tuple(chosen)
