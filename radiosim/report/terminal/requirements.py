"""The requirements of the scenario and whether they hold."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.text import Text

from radiosim.measure.summary import RequirementFigures, Summary
from radiosim.report.terminal.parts import block, hanging
from radiosim.report.terminal.words import digits, limit

_WORD = {True: "ok", False: "FAILED", None: "not judged"}
_STYLE = {True: "green", False: "bold red", None: "yellow"}


def verdict_text(requirement: RequirementFigures) -> str:
    """One requirement in one sentence."""
    text = f"{requirement.figure} {_measured(requirement)}, {_asked(requirement)} was asked"
    why = f": {requirement.why}" if requirement.why else ""
    word = "requirement FAILED" if requirement.ok is False else "requirement not judged"
    return f"{word}: {text}{why}"


def requirement_lines(summary: Summary) -> Iterator[RenderableType]:
    """Every requirement with its verdict, those that do not hold first."""
    if not summary.requirements:
        return
    ordered = sorted(summary.requirements, key=lambda r: (False, None, True).index(r.ok))
    title = "Requirements" if summary.start is not None else "Requirements, in the worst start"
    yield block(title, hanging(map(requirement_row, ordered)))


def requirement_row(requirement: RequirementFigures) -> tuple[Text, str]:
    """One requirement in a list of them."""
    word = Text(f"  {_WORD[requirement.ok]}", style=_STYLE[requirement.ok])
    return word, row_of(requirement)


def row_of(requirement: RequirementFigures) -> str:
    """What was asked and measured, without the verdict."""
    text = f"{requirement.figure} {_measured(requirement)}, {_asked(requirement)}"
    return f"{text}: {requirement.why}" if requirement.why else text


def _measured(requirement: RequirementFigures) -> str:
    measured = requirement.measured
    if measured is None:
        return "not measured"
    if float(measured).is_integer():
        return f"is {limit(measured)}"
    limits = (requirement.at_least, requirement.at_most)
    # A rounded figure must not seem to meet a limit that it misses.
    is_close = any(value is not None and digits(value) == digits(measured) for value in limits)
    return f"is {measured:.6g}" if is_close else f"is {digits(measured)}"


def _asked(requirement: RequirementFigures) -> str:
    bounds = (("at least", requirement.at_least), ("at most", requirement.at_most))
    return " and ".join(f"{word} {limit(value)}" for word, value in bounds if value is not None)
