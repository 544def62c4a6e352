"""Requirements in words: what was asked, what was measured."""

from collections.abc import Iterator, Sequence

from radiosim.assess.quantities import is_time, quantity_text
from radiosim.measure.summary import RequirementFigures
from radiosim.results.formats import fmt_exact

ORDER = (False, None, True)
"""Those that do not hold first."""


def worst_first(requirements: Sequence[RequirementFigures]) -> list[RequirementFigures]:
    """Requirements, those that failed first, then those that could not be judged."""
    return sorted(requirements, key=lambda requirement: ORDER.index(requirement.ok))


def unmet_text(requirement: RequirementFigures) -> str:
    """A requirement that failed, or could not be judged, in one sentence."""
    word = "requirement FAILED" if requirement.ok is False else "requirement not judged"
    why = f": {requirement.why}" if requirement.why else ""
    is_ = "" if requirement.measured is None else "is "
    measured = f"{requirement.figure} {is_}{measured_text(requirement)}"
    return f"{word}: {measured}, {asked_text(requirement)} was asked{why}"


def measured_text(requirement: RequirementFigures) -> str:
    """What was measured; a rounded figure never seems to meet a limit that it misses."""
    measured = requirement.measured
    if measured is None:
        return "not measured"
    limits = [limit for limit in (requirement.at_least, requirement.at_most) if limit is not None]
    figure = requirement.figure
    if not is_time(figure) and float(measured).is_integer():
        return fmt_exact(measured)
    text = quantity_text(figure, measured)
    is_close = any(text == quantity_text(figure, limit) and limit != measured for limit in limits)
    return f"{measured:.6g}{_unit(figure)}" if is_close else text


def asked_text(requirement: RequirementFigures) -> str:
    """The limits that were asked for."""
    return " and ".join(_limits(requirement))


def _limits(requirement: RequirementFigures) -> Iterator[str]:
    for word, limit in (("at least", requirement.at_least), ("at most", requirement.at_most)):
        if limit is not None:
            yield f"{word} {fmt_exact(limit)}{_unit(requirement.figure)}"


def _unit(figure: str) -> str:
    return " ms" if is_time(figure) else ""
