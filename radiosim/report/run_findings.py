"""What a run's findings say: one cure to paste, what it does, then each finding with its proof."""

from collections.abc import Iterator

from radiosim.assess.answers import line_to_paste
from radiosim.assess.in_words import asked_text, is_time, measured_text, quantity_text, where_judged
from radiosim.counted import counted
from radiosim.findings.case import FAULT
from radiosim.findings.in_return import SPENT
from radiosim.measure.summary import Cure, Effect, Finding, RequirementFigures, Summary
from radiosim.report.run_tables import HELD, HELD_ROLES
from radiosim.results.document import Column, Said, Section, Sentence, Table
from radiosim.results.formats import fmt_exact, list_text
from radiosim.scenario.assumed import program_lines

NEVER = "never"
FAULT_NOTE = "*: a fault of the scenario lies in that gap."
PROVED = "Each finding is proved by running starts again on the same draws."
BY_THE_MODEL = (
    "With a receiver that does what the scenario says, before and after: its own program was not "
    "run again. What these lines say of receiver, failsafe and outputs must be written into the "
    "program too."
)


def finding_sections(summary: Summary) -> Iterator[Section]:
    """The joint cure, then what is wrong and how it was proved: a section each."""
    findings = summary.findings or ()
    if findings:
        yield _joint_section(summary)
    wrong = [found for found in findings if not found.is_note]
    for number, found in enumerate(wrong, 1):
        yield Section(
            heading=f"{number}. {found.where}: {found.what}",
            sentences=tuple(_finding(found)),
            role="change",
        )
    notes = [found for found in findings if found.is_note]
    if notes:
        yield Section(
            heading="What the failsafe cannot see",
            sentences=tuple(said for found in notes for said in _note(found)),
            role="change",
        )


def _note(found: Finding) -> Iterator[Said]:
    yield f"{found.what[0].upper()}{found.what[1:]}."
    yield from _finding(found)


def _joint_section(summary: Summary) -> Section:
    cure = summary.cure
    tables = () if cure is None or not cure.effects else (effect_table(cure),)
    by_whom = (BY_THE_MODEL,) if program_lines(summary.assumed) else ()
    return Section(
        heading="What to change",
        sentences=(PROVED, *by_whom, *(() if cure is None else _joint(cure))),
        tables=tables,
        role="change",
    )


def _joint(cure: Cure) -> Iterator[Said]:
    if cure.set:
        one = len(cure.set) == 1
        yield "To paste, 1 line:" if one else f"To paste, {len(cure.set)} lines tried together:"
        yield from (Sentence(text=line_to_paste(line), form="code") for line in cure.set)
        yield (
            f"--write cured.toml writes the scenario with {'it' if one else 'them'}, its comments "
            "kept."
        )
    if cure.caution:
        yield Sentence(text=cure.caution, lead="NOTE", role="warn")
    if cure.why:
        yield Sentence(text=f"Not all is cured: {cure.why}.", role="warn")
    if cure.in_return:
        beyond = list_text(tuple(_changed_text(cure, path) for path in cure.in_return))
        yield Sentence(text=f"In return, beyond what is fine: {beyond}.", role="warn")
    yield from _spent(cure)
    failed = tuple(effect.figure for effect in cure.effects if effect.after_ok is False)
    if failed:
        verb = "does not hold" if len(failed) == 1 else "do not hold"
        yield Sentence(text=f"With all of it {list_text(failed)} still {verb}.", role="warn")


def _spent(cure: Cure) -> Iterator[str]:
    """What it takes of the air and of cells."""
    spent = [one for one in cure.effects if one.figure in cure.worse and one.figure.endswith(SPENT)]
    more = tuple(effect.figure for effect in spent if effect.after is not None)
    unknown = tuple(effect.figure for effect in spent if effect.after is None)
    if more:
        yield f"It takes more of the air or of a cell: {list_text(more)}."
    if unknown:
        yield f"Not known with it: {list_text(unknown)}."


def _changed_text(cure: Cure, path: str) -> str:
    """A figure before and after."""
    effect = next(effect for effect in cure.effects if effect.figure == path)
    was, now = (
        "nothing measured" if value is None else quantity_text(path, value)
        for value in (effect.before, effect.after)
    )
    return f"{path} {was}, then {now}"


def effect_table(cure: Cure) -> Table:
    """Every requirement, and the longest gap of every stream, before and with all cures."""
    columns = (
        Column(
            key="held",
            where="screen",
            is_text=True,
            show=lambda after: HELD[after.ok] if _is_asked(after) else "-",
            role=lambda after: HELD_ROLES[after.ok] if _is_asked(after) else None,
        ),
        Column(key="figure", is_text=True),
        Column(key="is", title="before", where="screen", show=_with_fault),
        Column(key="then", title="after", where="screen", show=_with_fault),
        Column(
            key="asked",
            title="required",
            where="screen",
            is_text=True,
            show=lambda after: asked_text(after) or "-",
        ),
    )
    where = ""
    if cure.starts > 1:
        of = f"of {counted(cure.starts, 'start')}"
        where = f", {where_judged((effect.figure for effect in cure.effects), of)}"
    return Table(
        key="cured",
        caption=f"What this does{where}",
        columns=columns,
        rows=tuple(_row(effect) for effect in cure.effects),
        note=FAULT_NOTE if any(map(_has_fault, cure.effects)) else "",
        where="screen",
    )


def _has_fault(effect: Effect) -> bool:
    return effect.has_fault_before or effect.has_fault_after


def _row(effect: Effect) -> tuple[object, ...]:
    before = _as_required(effect, effect.before, effect.before_ok)
    after = _as_required(effect, effect.after, effect.after_ok)
    was, now = (before, effect.has_fault_before), (after, effect.has_fault_after)
    return after, effect.figure, was, now, after


def _with_fault(shown: tuple[RequirementFigures, bool]) -> str:
    measured, has_fault = shown
    return f"{measured_text(measured)}{' *' if has_fault else ''}"


def _is_asked(requirement: RequirementFigures) -> bool:
    return requirement.at_least is not None or requirement.at_most is not None


def _as_required(effect: Effect, measured: float | None, ok: bool | None) -> RequirementFigures:
    return RequirementFigures(
        figure=effect.figure,
        at_least=effect.at_least,
        at_most=effect.at_most,
        measured=measured,
        ok=ok,
        why="",
    )


def _finding(found: Finding) -> Iterator[Said]:
    yield Sentence(text=f"{found.why}. {proof_text(found)}", lead="WHY")
    keys = dict.fromkeys(line.partition("=")[0].strip() for line in found.set)
    if keys:
        yield Sentence(text=f"above: {list_text(tuple(keys))}", lead="CURE")
    elif found.is_by_hand:
        yield Sentence(text=f"by hand: {found.cure}", lead="CURE")
    else:
        yield Sentence(text="none of the lines that were tried", lead="CURE")
    if found.cure and (keys or not found.is_by_hand):
        yield Sentence(text=found.cure, lead="NOTE")
    yield Sentence(text=found.measure, lead="MEASURE")


WITHOUT = {
    "alone": "without the cause",
    "together": "without it and those that hide it",
    "behind": "without the cause",
    "later": "without the cause",
}


SEEN = {
    "behind": "Seen without those that hide it: ",
    "later": "Seen once the others are cured: ",
}


def proof_text(found: Finding) -> str:
    """The figure before, without the cause, and with all cures."""
    shown = {
        stage: NEVER if value is None else _quantity(found.figure, value)
        for stage, value in found.proof.items()
    }
    when = SEEN.get(found.seen, "")
    parts = [f"{when}{found.figure}: {shown['before']}", f"{shown['after']} {WITHOUT[found.seen]}"]
    if "cured" in shown:
        parts.append(f"{shown['cured']} with all cures")
    return ", ".join(parts)


def _quantity(figure: str, value: float) -> str:
    if figure == FAULT and not value:
        return "on before it was due"
    is_count = not is_time(figure) and float(value).is_integer()
    return fmt_exact(value) if is_count else quantity_text(figure, value)
