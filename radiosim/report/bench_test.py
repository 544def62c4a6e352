"""`radiosim bench-test` as a report: a sheet of steps, what each should give, blanks to fill in."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import compress
from shlex import quote
from typing import Any

from msgspec.structs import replace

from radiosim.report.drill_sentences import guess_text
from radiosim.report.predicted_range import (
    ASSUMED,
    bound_text,
    marked_bound,
    marked_ends,
    range_text,
    remark,
)
from radiosim.results.document import (
    Column,
    Origin,
    Report,
    Role,
    Row,
    Said,
    Section,
    Sentence,
    Table,
)
from radiosim.study.bench.rests import Rest, defaults_text, keys_text
from radiosim.study.bench.step import (
    CLOSED,
    DRILLED,
    SIMULATED,
    STILL_DRIVEN,
    BenchTestSheet,
    Chapter,
    Prediction,
    Step,
    StepCase,
    labelled,
    letter_of,
    share_of,
)

MARKS = {CLOSED: "F", SIMULATED: "S", DRILLED: "D"}
"""What stands for where a predicted range comes from."""
MEASURED = "measured"
_NO_OUTPUT = "no output"
_TOLD_MS = 1.0
"""How far below its bound a reaction must end for a builder to see it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Trust:
    """How far most predicted ranges of a sheet can be trusted."""

    tries: int
    share: float

    def remark(self, predicted: Prediction) -> str:
        """What else there is to say of a prediction with a number."""
        return remark(predicted, self.share, self.tries)

    def seen(self, predicted: Prediction) -> str:
        """What is to be seen, and how often it was tried if less often than the others."""
        few = f" ({predicted.tries} tries)" if predicted.tries != self.tries else ""
        return f"{predicted.text}{few}"


def bench_test_report(sheet: BenchTestSheet, origin: Origin) -> Report:
    """Every step in order; a blank for each number, a box for all that is to be seen."""
    trust = _Trust(tries=sheet.starts, share=share_of(sheet.starts))
    return Report(
        title=f"Bench test sheet: {sheet.title}",
        subject="What to measure on the bench, and what should come out",
        done="",
        sections=(
            Section(
                heading="How to read this sheet",
                sentences=tuple(
                    Sentence(text=text, form="item") for text in _legend(sheet, trust.share)
                ),
            ),
            *_steps(sheet, trust),
        ),
        tables=(_predictions(sheet),),
        warnings=tuple(
            Sentence(text=text, role="bad")
            for text in (*sheet.hazards, *map(guess_text, sheet.guessed))
        ),
        cautions_first=sheet.cautions,
        blanks=("Date", "Units"),
        data=sheet,
        origin=origin,
    )


def _legend(sheet: BenchTestSheet, trusted_share: float) -> Iterator[str]:
    share = f"{100 * trusted_share:.0f}\N{NO-BREAK SPACE}%"
    yield "F: closed form, as sure as the settings that it is made of."
    yield (
        f"S: simulated over {sheet.starts} starts (power-ons, each with its own phases), D: with "
        f"the fault in each; the predicted range holds {share} of measurements as described, one "
        "by one."
    )
    if defaults := defaults_text(sheet.rests_on):
        yield (
            f"{ASSUMED}: rests on defaults and guesses of radiosim, which the scenario does not "
            f"say; check that your vehicle is so: {defaults}."
        )
    yield (
        "Ranges are rounded outward to what the instrument tells apart; a coarser one agrees "
        "within its step, a microsecond timer within its clock's error."
    )
    yield "NAME in a setting: the transmitter, stream or output of the row."
    yield from sheet.notes


def _steps(sheet: BenchTestSheet, trust: _Trust) -> Iterator[Section]:
    number = 0
    for chapter in sheet.chapters:
        yield Section(heading=chapter.title, sentences=tuple(_chapter(sheet, chapter)))
        for step in chapter.steps:
            number += 1
            yield Section(
                heading=f"{number}. {step.title}",
                is_step=True,
                sentences=tuple(_how(sheet, chapter, step)),
                tables=(_table(step, number, trust),),
            )


def _chapter(sheet: BenchTestSheet, chapter: Chapter) -> Iterator[Said]:
    yield chapter.how
    if rests := _rests(sheet, chapter.rests_on):
        yield Sentence(lead=ASSUMED, text=rests)
    reached = reached_text(chapter.steps)
    if reached:
        yield reached
    if chapter.if_not:
        yield Sentence(lead="if not", text=chapter.if_not)


_FEW = 6
"""So many defaults are named at their step; of more those that are not among them."""


def _rests(sheet: BenchTestSheet, rests: Sequence[Rest]) -> str:
    """The defaults that a chapter or step rests on, by their keys; nothing if there are none."""
    own = [rest for rest in rests if rest.is_default]
    others = [rest for rest in sheet.rests_on if rest.is_default and rest not in own]
    if len(own) <= _FEW or len(own) < len(others):
        return keys_text(own)
    but = keys_text(others)
    return f"all defaults at the head{f' but {but}' if but else ''}"


def _how(sheet: BenchTestSheet, chapter: Chapter, step: Step) -> Iterator[Sentence]:
    for lead, text in (("do", step.do), ("measure", step.measure), ("if not", step.if_not)):
        if text:
            yield Sentence(lead=lead, text=text)
    own = [rest for rest in step.rests_on if rest not in chapter.rests_on]
    if rests := _rests(sheet, own):
        yield Sentence(lead=ASSUMED, text=rests)
    yield from (Sentence(text=f"--set {quote(line)}", form="code") for line in step.settings)


def reached_text(steps: Sequence[Step]) -> str:
    """How near to their bounds reactions can come, where that can be told apart; or nothing."""
    bounds = {
        bound_text(predicted): bound_text(replace(predicted, high=predicted.reached))
        for step in steps
        for case in step.cases
        for predicted in case.predicted
        if predicted.high is not None
        and predicted.reached is not None
        and predicted.high - predicted.reached >= _TOLD_MS
    }
    told = [f"{reached} of {most} ms" for most, reached in bounds.items()]
    return f"Of 'at most' can be reached: {', '.join(told)}." if told else ""


def _table(step: Step, number: int, trust: _Trust) -> Table:
    is_fault = any(
        prediction.aspect != "value" for case in step.cases for prediction in case.predicted
    )
    return _faults(step, number, trust) if is_fault else _values(step, number, trust)


def _values(step: Step, number: int, trust: _Trust) -> Table:
    """A row for each thing measured, a column for each quantity."""
    found = [
        (prediction.of or case.title, prediction)
        for case in step.cases
        for prediction in case.predicted
    ]
    quantities = tuple(
        dict.fromkeys(
            (prediction.what, prediction.unit, prediction.source) for _, prediction in found
        )
    )
    cells = {(name, prediction.what): prediction for name, prediction in found}
    return Table(
        key=f"step_{number}",
        columns=(
            Column(key="of", is_text=True),
            *(
                Column(
                    key=what,
                    title=f"{what} ({MARKS[source]})",
                    unit=unit,
                    show=marked_ends,
                    blank=MEASURED,
                )
                for what, unit, source in quantities
            ),
        ),
        rows=tuple(
            (name, *(cells.get((name, what)) for what, _, _ in quantities))
            for name in dict.fromkeys(name for name, _ in found)
        ),
        note=" ".join(_value_notes(found, [what for what, _, _ in quantities], trust)),
        where="screen",
    )


def _value_notes(
    found: Sequence[tuple[str, Prediction]], quantities: Sequence[str], trust: _Trust
) -> Iterator[str]:
    """What else there is to say of each quantity, once for all rows that share it."""
    for what in quantities:
        rows = [
            (name, trust.remark(prediction))
            for name, prediction in found
            if prediction.what == what
        ]
        said = [
            text if len(names) == len(rows) else f"{', '.join(names)}: {text}"
            for text, names in _by_text(rows).items()
        ]
        if said:
            yield f"{what[:1].upper()}{what[1:]}: {'; '.join(said)}."


def _by_text(pairs: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    """Names by what is said of them; nothing said is left out."""
    texts: dict[str, list[str]] = {}
    for name, text in pairs:
        if text:
            texts.setdefault(text, []).append(name)
    return texts


def _look_role(text: str | None) -> Role | None:
    return "bad" if text is not None and text.startswith(STILL_DRIVEN) else None


FAULT_COLUMNS = (
    Column(key="case", is_text=True),
    Column(key="output", is_text=True),
    Column(key="shows", title="must show", is_text=True),
    Column(key="reaction", title="reaction (D)", unit="ms", show=marked_ends, blank=MEASURED),
    Column(key="bound", title="at most (F)", unit="ms", show=marked_bound),
    Column(key="back", title="back (D)", unit="ms", show=marked_ends, blank=MEASURED),
    Column(
        key="look",
        title="look for",
        nothing="",
        is_text=True,
        has_tick=True,
        role=_look_role,
        priority=9,
    ),
)


def _faults(step: Step, number: int, trust: _Trust) -> Table:
    """A row for each output that a fault must stop: its reaction, its bound and its return."""
    headings = [
        f"{number}{letter_of(step, place)} {case.title}" for place, case in enumerate(step.cases)
    ]
    cases = tuple(zip(headings, step.cases, strict=True))
    rows = [(heading, *row) for heading, case in cases for row in _output_rows(case, trust)]
    used = [any(row[place] is not None for row in rows) for place in range(len(FAULT_COLUMNS))]
    return Table(
        key=f"step_{number}",
        columns=tuple(compress(FAULT_COLUMNS, used)),
        rows=tuple(tuple(compress(row, used)) for row in rows),
        group_by="case",
        under={heading: tuple(_under(case, trust)) for heading, case in cases},
        note=" ".join(_fault_notes(step, number, trust)),
        where="screen",
    )


def _under(case: StepCase, trust: _Trust) -> Iterator[Sentence]:
    """What has a number of its own, then what to see of several outputs."""
    for predicted in case.predicted:
        if predicted.aspect == "reboot":
            more = trust.remark(predicted)
            text = (
                f"{predicted.what}{f' ({more})' if more else ''}: {range_text(predicted)} "
                f"({MARKS[predicted.source]})"
            )
            yield Sentence(text=text, form="blank")
    struck = {prediction.of for prediction in case.predicted if prediction.aspect == "reaction"}
    for aspect in ("back", "others"):
        seen = [
            prediction
            for prediction in case.predicted
            if prediction.aspect == aspect and prediction.is_seen
        ]
        for text, names in _by_text(
            (prediction.of, trust.seen(prediction)) for prediction in seen
        ).items():
            whose = "" if set(names) == struck else f"{', '.join(names)}: "
            yield Sentence(text=f"{whose}{text}", form="tick")


def _output_rows(case: StepCase, trust: _Trust) -> Iterator[Row]:
    """A row for each output; one for all of which the same is to be seen, and no number."""
    outputs: dict[str, dict[str, Prediction]] = {}
    for predicted in case.predicted:
        if predicted.aspect in ("reaction", "bound", "back"):
            outputs.setdefault(predicted.of, {})[predicted.aspect] = predicted
    alike: dict[str, list[str]] = {}
    for name, asked in outputs.items():
        if all(prediction.is_seen for prediction in asked.values()):
            alike.setdefault(trust.seen(asked["reaction"]), []).append(name)
    for name, asked in outputs.items():
        is_seen = all(prediction.is_seen for prediction in asked.values())
        names = alike[trust.seen(asked["reaction"])] if is_seen else [name]
        if name == names[0]:
            yield (", ".join(names), *_reaction(asked, trust))
    if not outputs:
        yield (_NO_OUTPUT, None, None, None, None, None)


def _reaction(asked: dict[str, Prediction], trust: _Trust) -> tuple[Any, ...]:
    """What must show, reaction, bound, return, and what to look for instead."""
    reaction, bound, back = asked["reaction"], asked.get("bound"), asked.get("back")
    back = None if back is None or back.is_seen else back
    if not reaction.is_seen:
        return reaction.text, reaction, bound, back, None
    text = trust.seen(reaction)
    if bound is not None:
        text = f"{text}; at most {marked_bound(bound)} ms ({MARKS[bound.source]})"
    return None, None, None, back, text


def _fault_notes(step: Step, number: int, trust: _Trust) -> Iterator[str]:
    """What a bound counts from, and predicted ranges that hold less than most."""
    labels = [f"{number}{letter_of(step, place)}" for place in range(len(step.cases))]
    predicted = [
        (label, prediction)
        for label, case in zip(labels, step.cases, strict=True)
        for prediction in case.predicted
        if not prediction.is_seen
    ]
    for text in dict.fromkeys(
        prediction.text
        for _, prediction in predicted
        if prediction.aspect == "bound" and prediction.text
    ):
        yield f"'At most' {text}."
    ranges = _by_text(
        (f"{label} {prediction.of}, {prediction.aspect}", trust.remark(prediction))
        for label, prediction in predicted
        if prediction.aspect in ("reaction", "back")
    )
    yield from (f"{'; '.join(names)}: {text}." for text, names in ranges.items())


def _predictions(sheet: BenchTestSheet) -> Table:
    """For files: one row a prediction, with an empty column for what was measured."""
    fields = ("what", "low", "high", "unit", "resolution", "source", "tries", "share", "reached")
    names = ("number", "step", "case", "title", "of", *fields, "text", MEASURED)
    return Table(
        key="predictions",
        columns=tuple(Column(key=name) for name in names),
        rows=tuple(
            (
                *(label, step.key, case.key, step.title, prediction.of or case.title),
                *(getattr(prediction, name) for name in fields),
                *(prediction.text, None),
            )
            for label, step, case in labelled(sheet.steps)
            for prediction in case.predicted
        ),
        where="data",
    )
