"""A step's predictions as tables: what a terminal and a page both draw."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from radiosim.report.bench.words import MARKS, band_text, bound_text, ends_text, remark
from radiosim.report.terminal.words import printable
from radiosim.study.bench.step import ALIVE, HOLDS, NEED_NOT, Prediction, Step, Turn, letter_of

CellKind = Literal["name", "words", "band", "blank", "hazard"]
NONE = "-"
MEASURED = "measured"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One place of a table; a blank is to be written in."""

    text: str
    kind: CellKind
    span: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A line before the rows: what to see, with a box to tick, or a number, with a blank."""

    text: str
    is_hazard: bool = False
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
    bounds = {
        bound_text(it): printable(it.text)
        for turn in step.turns
        for it in turn.predicted
        if it.aspect == "bound"
    }
    notes = [f"at most {bound}: {text}" for bound, text in bounds.items() if bound not in text]
    return Table(
        columns=("", "must show", "stop, ms D", "at most F", MEASURED, "back, ms D", MEASURED),
        groups=tuple(
            Group(
                label=f"{number}{letter_of(step, place)} {printable(turn.title)}",
                said=tuple(_said(turn, trust)),
                rows=tuple(_outputs(turn)),
            )
            for place, turn in enumerate(step.turns)
        ),
        notes=tuple(notes),
    )


def _said(turn: Turn, trust: Trust) -> Iterator[Said]:
    """Hazards first, then what has a number of its own, then the rest."""
    seen = _by_text((printable(it.of), _tried(it, trust)) for it in turn.predicted if it.is_seen)
    lines = {text: f"{', '.join(names)}: {text}" for text, names in seen.items()}
    yield from (Said(text=it, is_hazard=True) for text, it in lines.items() if _is_alive(text))
    for it in turn.predicted:
        if it.aspect == "reboot":
            more = remark(it, trust.share, trust.tries)
            text = f"{it.what}: {band_text(it)} {MARKS[it.source]}"
            yield Said(text=f"{text} ({more})" if more else text, is_number=True)
    yield from (Said(text=it) for text, it in lines.items() if not _is_alive(text))


def _is_alive(text: str) -> bool:
    return text.startswith(ALIVE)


def _tried(it: Prediction, trust: Trust) -> str:
    text = printable(it.text)
    return text if it.tries == trust.tries else f"{text} ({it.tries} tries)"


def _outputs(turn: Turn) -> Iterator[tuple[Cell, ...]]:
    """A row for each output of which there is a number."""
    outputs: dict[str, dict[str, Prediction]] = {}
    for it in turn.predicted:
        if it.aspect in ("stop", "bound", "back"):
            outputs.setdefault(it.of, {})[it.aspect] = it
    for name, asked in outputs.items():
        if all(it.is_seen for it in asked.values()):
            continue
        yield (
            Cell(text=printable(name), kind="name"),
            *_stop(asked["stop"], asked.get("bound")),
            Cell(text="", kind="blank"),
            *_back(asked.get("back")),
        )


def _stop(stop: Prediction, bound: Prediction | None) -> tuple[Cell, ...]:
    most = Cell(text=NONE if bound is None else bound_text(bound), kind="band")
    if not stop.is_seen:
        shown = Cell(text=printable(stop.text), kind="words")
        return shown, Cell(text=ends_text(stop), kind="band"), most
    short = {ALIVE: f"! {ALIVE}", NEED_NOT: NEED_NOT, HOLDS: HOLDS}
    word = next((say for begins, say in short.items() if stop.text.startswith(begins)), "see above")
    kind: CellKind = "hazard" if _is_alive(stop.text) else "words"
    if bound is None:
        return (Cell(text=word, kind=kind, span=3),)
    return Cell(text=word, kind=kind, span=2), most


def _back(back: Prediction | None) -> tuple[Cell, Cell]:
    if back is None or back.is_seen:
        return Cell(text=NONE, kind="words"), Cell(text="", kind="words")
    return Cell(text=ends_text(back), kind="band"), Cell(text="", kind="blank")
