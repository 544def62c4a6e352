"""The page of a run: what came of it, and figures of its worst start."""

from radiosim.measure.summary import Summary
from radiosim.report.page.parts import Page, PageTable, Section
from radiosim.report.page.run_tables import finding_sections, output_table, requirement_table
from radiosim.report.page.run_tables import stream_table as streams
from radiosim.report.terminal.hazards import hazards
from radiosim.report.terminal.head import amount
from radiosim.report.terminal.verdict import verdict
from radiosim.report.terminal.words import listed
from radiosim.scenario import Scenario
from radiosim.trace import Trace

MILD = ("steady", "cut by fault")
"""Verdicts of streams that need no cure."""


def page_of_run(
    summary: Summary,
    scenario: Scenario,
    trace: Trace,
    *,
    source: str,
    scenario_text: str,
    command: str,
) -> Page:
    """The whole page; `trace` is that of the start that its figures show."""
    return Page(
        title=summary.title or summary.scenario or "A scenario without a title",
        what=f"A simulated radio control link: {amount(summary)}",
        verdict=_verdict(summary, scenario),
        is_well=_is_well(summary, scenario),
        cautions=hazards(summary, scenario),
        sections=_sections(summary, scenario, trace),
        scenario_name=source,
        scenario_text=scenario_text,
        command=command,
        seed=summary.seed,
        version=summary.version,
    )


def _sections(summary: Summary, scenario: Scenario, trace: Trace) -> tuple[Section, ...]:
    tables: tuple[PageTable, ...] = (
        *streams(summary, scenario),
        *output_table(summary, scenario),
        *requirement_table(summary),
    )
    from radiosim.report.figures.of_run import figures_of_run  # noqa: PLC0415 - draws

    return (
        *(
            Section(heading=figure.title, figure=figure)
            for figure in figures_of_run(summary, trace)
        ),
        *finding_sections(summary),
        Section(heading="The figures of the whole run", tables=tables),
    )


def _verdict(summary: Summary, scenario: Scenario) -> str:
    words = {name: verdict(summary, scenario, name) for name in summary.figures.stream}
    said = [
        f"{listed(tuple(n for n, found in words.items() if found == word))}: {word}"
        for word in dict.fromkeys(words.values())
    ]
    text = "; ".join(said)
    asked = summary.requirements
    if not asked:
        return f"{text}. The scenario asks for nothing."
    held = sum(requirement.ok is True for requirement in asked)
    return f"{text}. {held} of {len(asked)} requirements hold."


def _is_well(summary: Summary, scenario: Scenario) -> bool | None:
    streams = summary.figures.stream
    is_mild = all(verdict(summary, scenario, name) in MILD for name in streams)
    if not is_mild or any(requirement.ok is False for requirement in summary.requirements):
        return False
    return True if summary.requirements and summary.ok else None
