"""What is wrong, why, what to try and how to measure it."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.text import Text

from radiosim.measure.summary import Finding, Summary
from radiosim.report.terminal.parts import block, hanging
from radiosim.report.terminal.words import digits, printable

TITLE = "Findings, each proved by running starts again on the same draws"
NEVER = "never"


def finding_lines(summary: Summary) -> Iterator[RenderableType]:
    """Every finding with its proof and cure."""
    if not summary.findings:
        return
    rows = [row for number, found in enumerate(summary.findings, 1) for row in _rows(number, found)]
    yield block(TITLE, hanging(rows, widths=(11,)))


def _rows(number: int, found: Finding) -> Iterator[tuple[Text, str]]:
    yield Text(f"  {number}", style="bold"), printable(f"{found.where}: {found.what}")
    yield Text("    WHY"), printable(f"{found.why}. {proof_text(found)}")
    lines, advice = cure_parts(found)
    for place, text in enumerate((*lines, *((advice,) if advice else ()))):
        yield Text("" if place else "    TRY"), printable(text)
    yield Text("    MEASURE"), printable(found.measure)


def cure_parts(found: Finding) -> tuple[tuple[str, ...], str]:
    """A cure's `--set` lines as they are pasted, and what is said with them."""
    lines, rest = [], found.cure
    for value in found.set:
        line = next(it for it in (f"--set '{value}'", f"--set {value}") if rest.startswith(it))
        lines.append(line)
        rest = rest.removeprefix(line).removeprefix(" ")
    return tuple(lines), rest.removeprefix(": ")


def proof_text(found: Finding) -> str:
    """The figure before, without the cause, and with the cure."""
    parts = [f"{found.figure}: {_shown(found.proof['before'])}"]
    parts.append(f"{_shown(found.proof['after'])} without the cause")
    if "cured" in found.proof:
        parts.append(f"{_shown(found.proof['cured'])} with the cure")
    return ", ".join(parts)


def _shown(value: float | None) -> str:
    return NEVER if value is None else digits(value)
