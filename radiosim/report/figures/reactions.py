"""Figure: does it react in time; every drill's reactions against its bound, term by term."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import msgspec

from radiosim.counted import counted
from radiosim.report.worst_output import worst_output
from radiosim.results.document import Drawing, Figure
from radiosim.results.formats import duration_text, list_text
from radiosim.study.drill.results import (
    FAILS,
    KEEPS,
    SHORT,
    UNTRIED,
    Drilled,
    DrillFigures,
    Verdict,
)

NAME = "reactions"
WORDS: dict[Verdict, str] = {
    FAILS: "NOT IN TIME",
    KEEPS: "keeps its value, as the scenario says",
    SHORT: "over before it was due",
    UNTRIED: "NOT TRIED",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillReactions:
    """The worst output of one drill; times since the last frame that counted."""

    fault: str
    unit: str
    output: str
    verdict: Verdict
    terms: tuple[tuple[str, float], ...]
    """What the bound is made of, ms; empty without one."""
    bound_ms: float | None
    reachable_ms: float | None
    median_ms: float | None
    worst_ms: float | None

    @property
    def is_bad(self) -> bool:
        """Whether it fails, or was not tried."""
        return self.verdict in (FAILS, UNTRIED)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReactionsData:
    """All drills, in the order in which they were made."""

    repeats: int
    """Faults of each."""
    drills: tuple[DrillReactions, ...]


def reactions_data(drilled: Drilled) -> ReactionsData:
    """The numbers of a drill."""
    groups = groupby(drilled.drills, key=lambda drill: (drill.fault, drill.unit))
    return ReactionsData(
        repeats=drilled.repeats,
        drills=tuple(_reactions(worst_output(tuple(group))) for _, group in groups),
    )


def _reactions(drill: DrillFigures) -> DrillReactions:
    return DrillReactions(
        fault=drill.fault,
        unit=drill.unit,
        output=drill.output,
        verdict=drill.verdict,
        terms=tuple((term.name, term.ms) for term in drill.terms),
        bound_ms=drill.bound_ms,
        reachable_ms=drill.reachable_ms,
        median_ms=drill.silence_ms.median,
        worst_ms=drill.silence_ms.max,
    )


def figure(drilled: Drilled) -> Figure:
    """The figure of a drill."""
    return figure_of(reactions_data(drilled))


def figure_of(data: ReactionsData) -> Figure:
    """The figure of reactions and bounds."""
    title = _title(data)
    return Figure(
        name=NAME,
        title=title,
        text=" ".join(_texts(data)),
        data=msgspec.to_builtins(data),
        draw=lambda: _drawing(data, title),
    )


def _drawing(data: ReactionsData, title: str) -> Drawing:
    from radiosim.report.figures.reactions_paint import drawing_of

    return drawing_of(data, NAME, title)


def _title(data: ReactionsData) -> str:
    bad = [drill for drill in data.drills if drill.is_bad]
    if bad:
        names = tuple(dict.fromkeys(f"{drill.fault} {drill.unit}" for drill in bad))
        more = f" and at {len(names) - 2} more faults" if len(names) > 3 else ""
        return f"Not everything reacts in time: {_first(bad)}{more}"
    timed = [drill for drill in data.drills if drill.worst_ms is not None]
    if not timed:
        return "No drill had anything to react to"
    longest = max(timed, key=lambda drill: drill.worst_ms or 0.0)
    does_keep = any(drill.verdict == KEEPS for drill in data.drills)
    what = "What is to react does so" if does_keep else "Everything reacts"
    return (
        f"{what} within its bound; the longest reaction takes {duration_text(longest.worst_ms)}: "
        f"{longest.output} at {longest.fault} {longest.unit}"
    )


def _first(bad: list[DrillReactions]) -> str:
    few = bad[:2] if len(bad) > 3 else bad
    return list_text(tuple(f"{drill.output} at {drill.fault} {drill.unit}" for drill in few))


def _texts(data: ReactionsData) -> Iterator[str]:
    yield (
        f"Each drill {counted(data.repeats, 'time')}, its worst output: time from the last frame "
        "that counted until failsafe is in effect. Bars: the bound, term by term."
    )
    timed = [d for d in data.drills if d.worst_ms is not None and d.verdict != FAILS]
    for output in dict.fromkeys(drill.output for drill in timed):
        mine = [drill for drill in timed if drill.output == output]
        worst = max(mine, key=lambda drill: drill.worst_ms or 0.0)
        bound = "no bound" if worst.bound_ms is None else f"bound {duration_text(worst.bound_ms)}"
        yield (
            f"{output}: at most {duration_text(worst.worst_ms)}, at {worst.fault} {worst.unit} "
            f"({', '.join((bound, *_parts(worst)))})."
        )
    for verdict, words in WORDS.items():
        faults = tuple(f"{d.fault} {d.unit}" for d in data.drills if d.verdict == verdict)
        if faults:
            yield f"{words.capitalize()}: {list_text(faults)}."


def _parts(drill: DrillReactions) -> tuple[str, ...]:
    return tuple(f"{name} {duration_text(ms)}" for name, ms in drill.terms)
