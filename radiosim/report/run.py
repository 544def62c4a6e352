"""`radiosim run` as a report: three answers, hazards, findings, pictures and tables."""

from collections.abc import Iterator

from radiosim.assess.answers import (
    Answer,
    change_answer,
    failsafe_answer,
    line_to_paste,
    stutter_answer,
    verdicts,
)
from radiosim.assess.hazards import Hazard, Rank, hazards
from radiosim.assess.in_words import (
    is_counted,
    nuisance_text,
    rare_text,
    simulated_s,
    where_judged,
)
from radiosim.assess.wanted import wanted, wanted_but_missed, wanted_lines
from radiosim.counted import counted
from radiosim.measure.summary import RareFigures, Summary
from radiosim.report.own_program import program_section
from radiosim.report.run_findings import finding_sections
from radiosim.report.run_more import glance_lines, more_sections
from radiosim.report.run_supply import supply_section
from radiosim.report.run_tables import (
    fault_table,
    file_tables,
    output_table,
    reaction_table,
    requirement_table,
    stream_table,
)
from radiosim.results.document import Figure, Origin, Report, Section, Sentence
from radiosim.results.formats import duration_text, fmt_exact, list_text
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import program_lines
from radiosim.scenario.danger import danger_of_stream, outputs_by_danger
from radiosim.trace import Trace

NOTHING_REQUIRED = (
    "Nothing was required: the exit code is 0 whatever was found. Requirements to paste stand "
    "above."
)
MILD = ("steady", "cut by fault")
"""Verdicts of streams that need no cure."""


def run_report(
    summary: Summary,
    scenario: Scenario,
    origin: Origin,
    *,
    shown: Trace | None = None,
    has_glance: bool = False,
) -> Report:
    """All that a run has to say; `shown`: the start that its pictures and its glance are of.

    Pictures are there if the summary has its curves.
    """
    return Report(
        title=title_of(summary),
        subject="A simulated radio control link",
        done=f"{amount(summary)} (seed {summary.seed}, {summary.engine} engine)",
        verdict=held_text(summary),
        is_well=is_well(summary, scenario),
        answers=_answers(summary, scenario),
        warnings=tuple(_warning(hazard) for hazard in hazards(summary, scenario)),
        sections=(
            *finding_sections(summary),
            *_pictures(summary, shown),
            *_assumed(summary),
            _streams(summary, scenario),
            *_glance(shown if has_glance else None),
            _failsafe(summary, scenario),
            _faults(summary, scenario),
            *supply_section(summary, scenario),
            Section(heading="Outputs", tables=(output_table(summary, scenario),)),
            _requirements(summary),
            *_wanted(summary, scenario),
            *more_sections(summary, scenario),
        ),
        tables=file_tables(summary),
        last=NOTHING_REQUIRED if tuple(_wanted(summary, scenario)) else "",
        data=summary.results(),
        origin=origin,
    )


def title_of(summary: Summary) -> str:
    """The scenario's title, or its name."""
    return summary.title or summary.scenario or "A scenario without a title"


def amount(summary: Summary) -> str:
    """How many starts of which length."""
    each = duration_text(1000 * summary.duration_s)
    if summary.start is not None:
        return f"start {summary.start}, {each}"
    total = duration_text(1000 * simulated_s(summary))
    return f"{counted(summary.starts, 'start')} of {each}, {total} in all"


def held_text(summary: Summary) -> str:
    """How many of the requirements hold."""
    asked = summary.requirements
    held = sum(requirement.ok is True for requirement in asked)
    if not asked:
        return "The scenario has no requirements."
    unjudged = sum(requirement.ok is None for requirement in asked)
    if len(asked) == 1:
        says = "holds" if held else "cannot be judged here" if unjudged else "does not hold"
        return f"The one requirement {says}."
    if held == len(asked):
        return f"All {held} requirements hold."
    rest = f", {unjudged} cannot be judged here" if unjudged else ""
    return f"{held} of {len(asked)} requirements {'holds' if held == 1 else 'hold'}{rest}."


def _streams(summary: Summary, scenario: Scenario) -> Section:
    chosen = (_chosen(summary),) if summary.starts_around_beats else ()
    return Section(heading="Streams", sentences=chosen, tables=(stream_table(summary, scenario),))


def _chosen(summary: Summary) -> str:
    """How the starts were chosen (rule T6)."""
    if summary.start is not None:
        return "This start was placed on a beat of two clocks."
    made = summary.starts_around_beats
    return (
        f"{made} of the starts {'was' if made == 1 else 'were'} placed on a beat of "
        "two clocks; averages are weighted back."
    )


def is_well(summary: Summary, scenario: Scenario) -> bool | None:
    """Whether streams are well and requirements hold; None: nothing was required."""
    is_mild = all(word in MILD for word in verdicts(summary, scenario).values())
    if not is_mild or any(requirement.ok is False for requirement in summary.requirements):
        return False
    return True if summary.requirements and summary.ok else None


def _answers(summary: Summary, scenario: Scenario) -> tuple[Sentence, ...]:
    return (
        _answered("Failsafe", failsafe_answer(summary, scenario)),
        _answered("Stutter", stutter_answer(summary, scenario)),
        _answered("Change", change_answer(summary)),
    )


def _answered(question: str, answer: Answer) -> Sentence:
    return Sentence(
        text=answer.text,
        lead=question,
        role=None if answer.is_good is None else "good" if answer.is_good else "bad",
    )


def _warning(hazard: Hazard) -> Sentence:
    return Sentence(text=hazard.text, role="warn" if hazard.rank >= Rank.FOUND else "bad")


def _pictures(summary: Summary, shown: Trace | None) -> Iterator[Section]:
    for picture in run_figures(summary, shown):
        yield Section(heading=picture.title, figures=(picture,), where="page")


def run_figures(summary: Summary, shown: Trace | None) -> tuple[Figure, ...]:
    """The figures of a run; none without a start to show, or without curves."""
    if shown is None or summary.curves is None:
        return ()
    from radiosim.report.figures.of_run import figures_of_run  # noqa: PLC0415 - draws

    return figures_of_run(summary, shown)


def _assumed(summary: Summary) -> Iterator[Section]:
    of_program = program_lines(summary.assumed)
    if of_program:
        yield program_section(of_program)
    others = [text for text in summary.assumed if text not in of_program]
    if others:
        yield Section(
            heading="Assumed, because the scenario does not say it",
            sentences=tuple(Sentence(text=text, form="item") for text in others),
        )


def _glance(shown: Trace | None) -> Iterator[Section]:
    if shown is not None:
        yield Section(
            heading=f"Start {shown.start} at a glance",
            letters=glance_lines(shown),
            where="terminal",
        )


def _failsafe(summary: Summary, scenario: Scenario) -> Section:
    """What each stream's failsafe did, and what it does for its outputs."""
    return Section(
        heading="Failsafe",
        sentences=tuple(
            _of_failsafe(summary, scenario, name)
            for name in sorted(
                summary.reaction, key=lambda stream: danger_of_stream(scenario, stream)
            )
        ),
        tables=(reaction_table(summary, scenario),),
    )


def _of_failsafe(summary: Summary, scenario: Scenario, name: str) -> Sentence:
    reaction = summary.reaction[name]
    if reaction.timeout_ms is None:
        outputs = outputs_by_danger(scenario, reaction.bound_ms)
        verb = "keep their last values" if len(outputs) > 1 else "keeps its last value"
        what = list_text(outputs) or "what it drives"
        return Sentence(text=f"NO FAILSAFE: {what} {verb} for good", lead=name, role="bad")
    parts = [f"after {fmt_exact(reaction.timeout_ms)} ms of silence", *_trips(summary, name)]
    return Sentence(text="; ".join(parts), lead=name)


def _trips(summary: Summary, name: str) -> Iterator[str]:
    stream = summary.figures.stream[name]
    if not stream.read:
        yield "no value was ever read, failsafe was on from the start"
    elif stream.failsafe is not None:
        yield nuisance_text(summary, stream.failsafe)
        if isinstance(stream.failsafe.rare, RareFigures) and not is_counted(stream.failsafe.rare):
            yield rare_text(stream.failsafe.rare)


def _faults(summary: Summary, scenario: Scenario) -> Section:
    slowest = "" if summary.start is not None else ", in the slowest start"
    return Section(
        heading=f"Faults of the scenario (slowest output{slowest})",
        tables=(fault_table(summary, scenario),),
    )


def _requirements(summary: Summary) -> Section:
    where = ""
    if summary.start is None:
        where = f", {where_judged(asked.figure for asked in summary.requirements)}"
    return Section(heading=f"Requirements{where}", tables=(requirement_table(summary),))


def _wanted(summary: Summary, scenario: Scenario) -> Iterator[Section]:
    """Requirements to paste, for a scenario that has none."""
    asked = wanted(scenario)
    if summary.requirements or not asked:
        return
    missed = wanted_but_missed(summary, scenario)
    held = f"{len(asked) - len(missed)} of {len(asked)} hold as figures stand"
    fails = f", not {list_text(missed)}" if missed else ""
    yield Section(
        heading="Requirements to paste",
        sentences=(
            f"What a builder usually wants; {held}{fails}:",
            *(Sentence(text=line_to_paste(line), form="code") for line in wanted_lines(scenario)),
        ),
    )
