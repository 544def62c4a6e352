"""The worst of the outputs that a drill strikes."""

from collections.abc import Iterable

from radiosim.measure.summary import Distribution
from radiosim.report.terminal.words import listed
from radiosim.study.drill.results import FAILED, HELD, OK, SHORT, UNTRIED, DrillFigures

_RANK = (FAILED, UNTRIED, OK, HELD, SHORT)


def worst_output(drills: Iterable[DrillFigures]) -> DrillFigures:
    """Of one fault's outputs: first what failed, then what stopped last."""
    return max(drills, key=_badness)


def _badness(drill: DrillFigures) -> tuple[int, int, float]:
    return -_RANK.index(drill.verdict), drill.still_driven_repeats, drill.reaction_ms.max or 0.0


def latest(times_ms: Iterable[Distribution]) -> float | None:
    """The longest of some times; None: none of them ever came."""
    return max((it.max for it in times_ms if it.max is not None), default=None)


def stops_of(drill: DrillFigures) -> Distribution:
    """How long its stops took; none where some never came, for the others say little then."""
    never = Distribution(mean=None, median=None, p95=None, p99=None, max=None, n=0)
    return never if drill.still_driven else drill.reaction_ms


def past_bounds(drills: Iterable[DrillFigures]) -> str:
    """Why stops that are in order may come later after the fault than their bound is long."""
    later = [
        f"{drill.fault} {drill.unit}"
        for drill in drills
        if drill.verdict == OK
        and drill.bound_ms is not None
        and (drill.reaction_ms.max or 0.0) > drill.bound_ms
    ]
    if not later:
        return ""
    return (
        f"{listed(tuple(dict.fromkeys(later)))}: worst is past its bound, which counts from the "
        "last frame that the receiver had not seen: where frames are lost, that came after the "
        "fault."
    )
