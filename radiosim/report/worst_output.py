"""The worst of the outputs that a fault strikes."""

from collections.abc import Sequence

from radiosim.study.drill.results import FAILS, HOLDS, KEEPS, SHORT, UNTRIED, DrillFigures, Verdict

_RANK: tuple[Verdict, ...] = (FAILS, UNTRIED, HOLDS, KEEPS, SHORT)


def worst_output(drills: Sequence[DrillFigures]) -> DrillFigures:
    """Of one fault's outputs: first what fails, then what reacts last."""
    return max(drills, key=_badness)


def _badness(drill: DrillFigures) -> tuple[int, int, float]:
    return -_RANK.index(drill.verdict), drill.still_driven_repeats, drill.reaction_ms.max or 0.0
