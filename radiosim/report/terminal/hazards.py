"""What may hurt, before everything else: each in a line or two, marked with "!"."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.text import Text

from radiosim.measure.summary import Finding, Stopping, Summary
from radiosim.report.terminal.failsafe import nuisance_text
from radiosim.report.terminal.parts import hanging, worst
from radiosim.report.terminal.requirements import verdict_text
from radiosim.report.terminal.verdict import verdict
from radiosim.report.terminal.words import digits, listed, printable, whole
from radiosim.scenario import Scenario


def hazards(summary: Summary, scenario: Scenario) -> tuple[str, ...]:
    """The worst first: stops that never come, requirements that do not hold, doubts."""
    return (
        *(text for name, how in summary.stopping.items() for text in _of_stopping(name, how)),
        *(text for name in summary.figures.stream for text in _of_stream(summary, scenario, name)),
        *(
            verdict_text(requirement)
            for wanted in (False, None)
            for requirement in summary.requirements
            if requirement.ok is wanted
        ),
        *(_of_finding(finding) for finding in summary.findings),
        *(printable(text) for text in summary.warnings),
    )


def hazard_lines(texts: tuple[str, ...]) -> Iterator[RenderableType]:
    """The hazards as they are printed."""
    if texts:
        yield hanging(((Text("!", style="bold red"), text) for text in texts), widths=(1,))
        yield Text()


def _of_stopping(stream: str, stopping: Stopping) -> Iterator[str]:
    """One line a stream that nothing stops, else one for each reason why an output may not stop."""
    unbound = tuple(name for name, bound_ms in stopping.bound_ms.items() if bound_ms is None)
    if stopping.timeout_ms is None:
        what = listed(unbound) or "what it drives"
        yield f"{stream} has NO FAILSAFE: if its sender goes silent, nothing stops {what}"
        return
    if stopping.cannot_work:
        yield f"{stream}: THIS FAILSAFE CANNOT WORK: {stopping.cannot_work}"
    reasons = dict.fromkeys(stopping.why.get(name, "") for name in unbound)
    for why in reasons:
        if why == stopping.cannot_work and why:
            continue
        names = tuple(name for name in unbound if stopping.why.get(name, "") == why)
        text = f"{listed(names)}: NO BOUND on the time until failsafe"
        yield f"{text}: {why}" if why else text


def _of_stream(summary: Summary, scenario: Scenario, name: str) -> Iterator[str]:
    """A stream that cannot keep its outputs alive."""
    word = verdict(summary, scenario, name)
    figures = summary.figures.stream[name]
    if word == "silent":
        yield f"{name}: none of its {whole(figures.sampled)} frames was ever read"
    elif word == "starves":
        longest_ms = worst(summary, f"stream.{name}.hole_ms", figures.hole_ms)
        trips = "" if figures.failsafe is None else f"; {nuisance_text(summary, figures.failsafe)}"
        yield f"{name} STARVES: up to {digits(longest_ms)} ms without a value{trips}"


def _of_finding(finding: Finding) -> str:
    proof = ", ".join(f"{name} {digits(value)}" for name, value in finding.proof.items())
    shown = f" ({proof})" if proof else ""
    return f"{finding.where}: {finding.what}{shown}. Cure: {finding.cure}"
