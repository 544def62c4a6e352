"""A step's predictions as tables: what a terminal and a page both draw."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from msgspec.structs import replace

from radiosim.report.bench.words import MARKS, band_text, bound_text, ends_text, remark
from radiosim.report.terminal.words import printable
from radiosim.study.bench.step import ALIVE, Prediction, Step, Turn, letter_of

CellKind = Literal["name", "words", "band", "blank", "seen", "hazard"]
NONE = "-"
MEASURED = "measured"
_AS_ABOVE = f"{ALIVE}, as above"
_TOLD_MS = 1.0
"""How far below its bound a stop must end for a builder to see it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One place of a table; blanks are to be written in, what is seen or a hazard to be ticked."""

    text: str
    kind: CellKind
    span: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """Said before the rows: what to see, with a box to tick, or a number, with a blank."""

    text: str
    is_number: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Rows of one turn, or of all turns."""

    label: str
    said: tuple[Said, ...]
    rows: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Columns with their marks, rows in groups."""

    columns: tuple[str, ...]
    groups: tuple[Group, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Trust:
    """How far most bands of a card can be trusted."""

    tries: int
    share: float


def tables_of(step: Step, number: int, trust: Trust) -> tuple[Table, ...]:
    """The tables of one step."""
    if any(it.aspect != "value" for turn in step.turns for it in turn.predicted):
        return (_of_faults(step, number, trust),)
    return tuple(_of_values(step, trust))


def _of_values(step: Step, trust: Trust) -> Iterator[Table]:
    """Two quantities a table, so that it fits 80 columns; a row for each thing measured."""
    found = [(_name(turn, it), it) for turn in step.turns for it in turn.predicted]
    quantities = list(dict.fromkeys((it.what, it.unit, it.source) for _, it in found))
    for first in range(0, len(quantities), 2):
        chosen = quantities[first : first + 2]
        columns = [""]
        rows: dict[str, list[Cell]] = {}
        for what, unit, source in chosen:
            columns += [_title(what, unit, source), MEASURED]
        for name in dict.fromkeys(name for name, _ in found):
            cells = [cell for what, _, _ in chosen for cell in _value(found, name, what)]
            if any(cell.kind == "band" for cell in cells):
                rows[name] = [Cell(text=name, kind="name"), *cells]
        yield Table(
            columns=tuple(columns),
            groups=(Group(label="", said=(), rows=tuple(map(tuple, rows.values()))),),
            notes=tuple(_notes(found, [what for what, _, _ in chosen], trust)),
        )


def _name(turn: Turn, it: Prediction) -> str:
    return printable(it.of or turn.title)


def _title(what: str, unit: str, source: str) -> str:
    return f"{what}{', ' if unit else ''}{unit} {MARKS[source]}"


def _value(found: Sequence[tuple[str, Prediction]], name: str, what: str) -> tuple[Cell, Cell]:
    for other, it in found:
        if other == name and it.what == what:
            return Cell(text=ends_text(it), kind="band"), Cell(text="", kind="blank")
    return Cell(text=NONE, kind="words"), Cell(text="", kind="words")


def _notes(
    found: Sequence[tuple[str, Prediction]], quantities: Sequence[str], trust: Trust
) -> Iterator[str]:
    """What else there is to say of each quantity, once for all rows that share it."""
    for what in quantities:
        rows = [
            (name, remark(it, trust.share, trust.tries)) for name, it in found if it.what == what
        ]
        texts = _by_text(rows)
        said = [
            text if len(names) == len(rows) else f"{', '.join(names)}: {text}"
            for text, names in texts.items()
        ]
        if said:
            yield f"{what}: {'; '.join(said)}"


def _by_text(pairs: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    """Names by what is said of them; nothing said is left out."""
    texts: dict[str, list[str]] = {}
    for name, text in pairs:
        if text:
            texts.setdefault(text, []).append(name)
    return texts


def _of_faults(step: Step, number: int, trust: Trust) -> Table:
    """Every output that a fault must stop, with its stop, its bound and its return."""
    return Table(
        columns=("", "must show", "stop, ms D", "at most F", MEASURED, "back, ms D", MEASURED),
        groups=tuple(
            Group(
                label=f"{number}{letter_of(step, place)} {printable(turn.title)}",
                said=tuple(_said(turn, trust)),
                rows=tuple(_outputs(turn, trust)),
            )
            for place, turn in enumerate(step.turns)
        ),
        notes=tuple(_fault_notes(step, number, trust)),
    )


def _fault_notes(step: Step, number: int, trust: Trust) -> Iterator[str]:
    """What a bound counts from, and bands that hold less than most."""
    labels = [f"{number}{letter_of(step, place)}" for place in range(len(step.turns))]
    predicted = [
        (label, it)
        for label, turn in zip(labels, step.turns, strict=True)
        for it in turn.predicted
        if not it.is_seen
    ]
    for text in dict.fromkeys(it.text for _, it in predicted if it.aspect == "bound" and it.text):
        yield f"'At most' {printable(text)}."
    bands = _by_text(
        (f"{label} {printable(it.of)}, {it.aspect}", remark(it, trust.share, trust.tries))
        for label, it in predicted
        if it.aspect in ("stop", "back")
    )
    yield from (f"{'; '.join(names)}: {text}" for text, names in bands.items())


def reached_text(steps: Sequence[Step]) -> str:
    """How near to their bounds stops can come, where that can be told apart; or nothing."""
    bounds = {
        bound_text(it): bound_text(replace(it, high=it.reached))
        for step in steps
        for turn in step.turns
        for it in turn.predicted
        if it.high is not None and it.reached is not None and it.high - it.reached >= _TOLD_MS
    }
    told = [f"{reached} of {most} ms" for most, reached in bounds.items()]
    return f"Of 'at most' can be reached: {', '.join(told)}." if told else ""


def _said(turn: Turn, trust: Trust) -> Iterator[Said]:
    """What has a number of its own, then what to see of several outputs."""
    for it in turn.predicted:
        if it.aspect == "reboot":
            more = remark(it, trust.share, trust.tries)
            text = f"{it.what}{f' ({more})' if more else ''}: {band_text(it)} {MARKS[it.source]}"
            yield Said(text=text, is_number=True)
    struck = {it.of for it in turn.predicted if it.aspect == "stop"}
    for aspect in ("back", "others"):
        seen = [it for it in turn.predicted if it.aspect == aspect and it.is_seen]
        for text, names in _by_text((it.of, _seen(it, trust)) for it in seen).items():
            whose = "" if set(names) == struck else f"{printable(', '.join(names))}: "
            yield Said(text=f"{whose}{text}")


def _seen(it: Prediction, trust: Trust) -> str:
    text = printable(it.text)
    return text if it.tries == trust.tries else f"{text} ({it.tries} tries)"


def _outputs(turn: Turn, trust: Trust) -> Iterator[tuple[Cell, ...]]:
    """A row for each output; one for all of which the same is to be seen, and no number."""
    outputs: dict[str, dict[str, Prediction]] = {}
    for it in turn.predicted:
        if it.aspect in ("stop", "bound", "back"):
            outputs.setdefault(it.of, {})[it.aspect] = it
    alike: dict[str, list[str]] = {}
    for name, asked in outputs.items():
        if all(it.is_seen for it in asked.values()):
            alike.setdefault(_seen(asked["stop"], trust), []).append(name)
    above = ""
    for name, asked in outputs.items():
        stop, text = asked["stop"], _seen(asked["stop"], trust)
        names = alike.get(text, []) if all(it.is_seen for it in asked.values()) else [name]
        if name == names[0]:
            yield (
                Cell(text=printable(", ".join(names)), kind="name"),
                *_stop(stop, _AS_ABOVE if text == above else text, asked.get("bound")),
                *_back(asked.get("back")),
            )
            above = text if text.startswith(ALIVE) else ""


def _stop(stop: Prediction, text: str, bound: Prediction | None) -> tuple[Cell, ...]:
    if not stop.is_seen:
        return (
            Cell(text=printable(stop.text), kind="words"),
            Cell(text=ends_text(stop), kind="band"),
            Cell(text=NONE if bound is None else bound_text(bound), kind="band"),
            Cell(text="", kind="blank"),
        )
    if bound is not None:
        text = f"{text}; at most {bound_text(bound)} ms {MARKS[bound.source]}"
    kind: CellKind = "hazard" if stop.text.startswith(ALIVE) else "seen"
    return (Cell(text=text, kind=kind, span=4),)


def _back(back: Prediction | None) -> tuple[Cell, Cell]:
    if back is None or back.is_seen:
        return Cell(text=NONE, kind="words"), Cell(text="", kind="words")
    return Cell(text=ends_text(back), kind="band"), Cell(text="", kind="blank")
