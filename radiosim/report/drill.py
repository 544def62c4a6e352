"""`radiosim failsafe` as a report: what reacts in time at every fault, and what timeouts cost."""

from collections.abc import Callable, Iterator
from itertools import groupby
from typing import Any

from radiosim.counted import counted
from radiosim.report.drill_sentences import (
    cure_sentences,
    drills_note,
    fault_names,
    feasible_sentences,
    nothing_to_weigh,
    requirement_sentence,
    rest_sentences,
    trade_off_note,
    verdict_text,
    warnings,
    worst_text,
)
from radiosim.report.figures import reactions, trade_off
from radiosim.report.figures.reactions import worst_output
from radiosim.report.own_program import program_section
from radiosim.results.data import Record, record_of, record_table
from radiosim.results.document import Column, Origin, Report, Role, Section, Sentence, Table
from radiosim.results.formats import duration_text, fmt_percent, fmt_range, fmt_sig3, list_text
from radiosim.safety import CLEAR, NO_JAMMING
from radiosim.scenario.assumed import program_lines
from radiosim.study.drill.results import (
    FAILS,
    HOLDS,
    UNTRIED,
    Drilled,
    DrillFigures,
    StreamBound,
    TradeOffPoint,
)

FIRST = f"Do these drills on the bench too: {CLEAR}; {NO_JAMMING}."
CURES = "To try: add to the command; then build it, and drill it on the bench"
NOTHING_SEEN = (None, None)
_ROLES: dict[str, Role] = {HOLDS: "good", FAILS: "bad", UNTRIED: "bad"}
_NESTED = (
    *("skipped", "assumed", "notes", "drills", "others", "bound", "worst", "asked", "timeout_ms"),
    *("trade_off", "feasible_range", "requirements", "violations", "cures", "uncured", "guessed"),
    *("rests_on", "beats"),
)
"""Fields of a drill that have tables of their own."""


def drill_report(drilled: Drilled, origin: Origin, *, speed_m_s: float | None = None) -> Report:
    """Every drill against its bound; `speed_m_s`: how fast the vehicle is, to tell how far it gets.

    Tables hold every drill of every output; screens show the worst output of each fault.
    """
    faults = len(fault_names(drilled.drills))
    left_out = f", {list_text(drilled.skipped)} left out" if drilled.skipped else ""
    return Report(
        title=drilled.title or drilled.scenario or "A scenario without a title",
        subject="Failsafe drills of a simulated radio control link",
        done=f"{counted(faults, 'fault')} drilled, {counted(drilled.repeats, 'time')} each"
        f"{left_out} (seed {drilled.seed}, {drilled.engine} engine)",
        verdict=verdict_text(drilled),
        is_well=None if drilled.ok and drilled.keeping else drilled.ok,
        warnings=warnings(drilled),
        sections=(
            *_of_program(drilled),
            Section(heading=CURES, sentences=tuple(cure_sentences(drilled)), role="change"),
            Section(
                heading="Worst reaction of each stream",
                sentences=tuple(
                    Sentence(lead=stream, text=worst_text(worst, speed_m_s))
                    for stream, worst in drilled.worst.items()
                ),
            ),
            _drills(drilled),
            Section(
                heading="What the longest reaction is made of, when a transmitter falls silent",
                tables=(_bounds(drilled),),
            ),
            *_trade_offs(drilled),
            Section(
                heading="Requirements on reaction times",
                sentences=tuple(map(requirement_sentence, drilled.requirements)),
            ),
        ),
        tables=tuple(_files(drilled)),
        cautions_first=(FIRST,),
        data=drilled,
        origin=origin,
    )


def _of_program(drilled: Drilled) -> Iterator[Section]:
    lines = program_lines(drilled.assumed)
    if lines:
        yield program_section(
            (*lines, "no cures are looked for: they would change the program too")
        )


def _drills(drilled: Drilled) -> Section:
    figure = reactions.figure(drilled)
    if drilled.drills and all(drill.verdict == UNTRIED for drill in drilled.drills):
        return Section(heading=figure.title, sentences=(drills_note(drilled),))
    groups = groupby(drilled.drills, key=lambda drill: (drill.fault, drill.unit))
    return Section(
        heading=figure.title,
        figures=(figure,),
        tables=(
            Table(
                key="worst_outputs",
                caption="From the fault until failsafe is in effect",
                columns=(
                    Column(key="fault", title="fault", is_text=True),
                    Column(
                        key="verdict",
                        show=lambda verdict: verdict.upper() if _is_bad(verdict) else verdict,
                        role=_ROLES.get,
                        is_text=True,
                    ),
                    Column(key="output", title="output", is_text=True, priority=1),
                    _time("median", priority=2),
                    _time("worst"),
                    _time("bound", nothing="none"),
                    _time("stopping", priority=1),
                    _time("back", priority=1),
                ),
                rows=tuple(_row(tuple(group)) for _, group in groups),
                note=drills_note(drilled),
                where="screen",
            ),
        ),
    )


def _is_bad(verdict: str) -> bool:
    return _ROLES.get(verdict) == "bad"


def _time(key: str, *, nothing: str = "-", priority: int = 0) -> Column:
    return Column(key=key, title=key, show=duration_text, nothing=nothing, priority=priority)


def _row(group: tuple[DrillFigures, ...]) -> tuple[Any, ...]:
    """The worst output of one fault; of reactions that sometimes never came nothing is said."""
    drill = worst_output(group)
    took = drill.reaction_ms
    return (
        f"{drill.fault} {drill.unit}",
        drill.verdict,
        drill.output,
        *(NOTHING_SEEN if drill.still_driven else (took.median, took.max)),
        drill.bound_ms,
        None if drill.still_driven else _latest(group, lambda each: each.stopping_ms.max),
        _latest(group, lambda each: each.recovered_ms.max),
    )


def _latest(
    group: tuple[DrillFigures, ...], time_of: Callable[[DrillFigures], float | None]
) -> float | None:
    """The longest of some times; None: none of them ever came."""
    times = map(time_of, group)
    return max((time_ms for time_ms in times if time_ms is not None), default=None)


def _bounds(drilled: Drilled) -> Table:
    return Table(
        key="bound",
        columns=(
            Column(key="stream", is_text=True),
            Column(
                key="term",
                nothing="NO BOUND",
                role=lambda term: "bad" if term is None else None,
                is_text=True,
            ),
            Column(key="ms", show=duration_text, nothing=""),
            Column(key="output", where="data"),
            Column(key="why", where="data"),
            Column(key="hint", is_text=True, nothing="", where="screen"),
        ),
        rows=tuple(row for stream, bound in drilled.bound.items() for row in _terms(stream, bound)),
        group_by="stream",
        under={
            stream: (_in_all(drilled, bound),)
            for stream, bound in drilled.bound.items()
            if bound.total_ms is not None
        },
    )


def _terms(stream: str, bound: StreamBound) -> Iterator[tuple[Any, ...]]:
    """One row a term; a stream without a bound has one that says why."""
    if bound.total_ms is None:
        hint = f"{bound.output}: {bound.why}" if bound.output else bound.why
        yield stream, None, None, bound.output, bound.why, hint
        return
    longest = max(bound.terms, key=lambda term: term.ms)
    for term in bound.terms:
        mark = "<- shorten this first" if term is longest else None
        yield stream, term.name, term.ms, bound.output, None, mark


def _in_all(drilled: Drilled, bound: StreamBound) -> str:
    """The bound, and how near the drills came to the worst that can be reached."""
    near = [
        (drill.silence_ms.max, drill.reachable_ms)
        for drill in drilled.drills
        if drill.output == bound.output
        and drill.bound_ms == bound.total_ms
        and drill.silence_ms.max is not None
        and drill.reachable_ms
    ]
    text = f"{duration_text(bound.total_ms)} in all, for {bound.output}"
    if not near:
        return text
    seen_ms, reach_ms = max(near)
    # Passes that differ, by what they read, reach what equal ones do not.
    reachable = f"reachable {duration_text(reach_ms)}, " if reach_ms >= seen_ms else ""
    return f"{text}; since the last frame: {reachable}drilled {duration_text(seen_ms)}"


def _trade_offs(drilled: Drilled) -> Iterator[Section]:
    for stream in drilled.trade_off:
        said = (*feasible_sentences(drilled, stream), *rest_sentences(drilled, stream))
        title = nothing_to_weigh(drilled, stream)
        if title:
            yield Section(heading=title, sentences=said)
            continue
        figure = trade_off.figure(drilled, stream)
        yield Section(
            heading=figure.title,
            sentences=said,
            figures=(figure,),
            tables=(_trade_off_table(drilled, stream),),
        )
    if drilled.trade_off:
        yield Section(sentences=(trade_off_note(drilled),))


def _trade_off_table(drilled: Drilled, stream: str) -> Table:
    curve, now_ms = drilled.trade_off[stream], drilled.timeout_ms[stream]
    places = trade_off.shown_places([point.timeout_ms for point in curve], now_ms)
    return Table(
        key=f"trade_off.{stream}",
        caption=f"Timeouts of {stream}",
        columns=_trade_off_columns(now_ms),
        rows=tuple(_trade_off_row(curve[place]) for place in places),
        where="screen",
        is_folded=True,
    )


def _trade_off_columns(now_ms: float) -> tuple[Column, ...]:
    return (
        Column(
            key="timeout",
            title="timeout",
            show=lambda ms: f"{duration_text(ms)}{' (now)' if ms == now_ms else ''}",
        ),
        Column(key="nuisance_per_hour", title="nuisance trips", unit="/h", show=fmt_sig3),
        Column(key="interval", title="95 % interval", show=fmt_range, priority=1),
        Column(key="reaction", title="reaction within", show=duration_text, nothing="none"),
        Column(
            key="alive",
            title="alive",
            show=lambda alive: f"{'DEAD: ' if alive[1] else ''}{fmt_percent(alive[0])}",
            role=lambda alive: "bad" if alive[1] else None,
            is_text=True,
            priority=1,
        ),
    )


def _trade_off_row(point: TradeOffPoint) -> tuple[Any, ...]:
    return (
        point.timeout_ms,
        point.nuisance_per_hour,
        point.nuisance_per_hour_ci95,
        point.worst_reaction_ms,
        (point.alive_share, point.is_dead),
    )


def _files(drilled: Drilled) -> Iterator[Table]:
    """Tables that files hold beside those of the screens; what never came is an empty cell."""
    yield record_table("drill", [record_of(drilled, leave_out=_NESTED)])
    yield record_table(
        "drills",
        [record_of(drill, leave_out=("terms",)) for drill in drilled.drills],
        first=("fault", "unit", "stream", "output"),
    )
    yield record_table(
        "terms",
        [
            {"fault": d.fault, "unit": d.unit, "output": d.output, "term": term.name, "ms": term.ms}
            for d in drilled.drills
            for term in d.terms
        ],
        first=("fault", "unit", "output", "term", "ms"),
    )
    yield record_table("others", list(map(record_of, drilled.others)), first=("fault", "unit"))
    yield record_table(
        "worst",
        [{"stream": stream, **record_of(worst)} for stream, worst in drilled.worst.items()],
        first=("stream", "reaction_ms"),
    )
    yield record_table(
        "trade_off",
        [
            {"stream": stream, **record_of(point)}
            for stream, curve in drilled.trade_off.items()
            for point in curve
        ],
        first=("stream", "timeout_ms"),
    )
    yield record_table(
        "feasible_range",
        [{"stream": stream, **record_of(of)} for stream, of in drilled.feasible_range.items()],
        first=("stream", "shortest_ms", "longest_ms"),
    )
    yield record_table("asked", _asked(drilled), first=("stream", "timeout_ms", "reaction_ms"))
    yield record_table("notes", _notes(drilled), first=("kind", "text"))
    yield record_table(
        "requirements", list(map(record_of, drilled.requirements)), first=("figure",)
    )
    yield record_table("cures", list(map(record_of, drilled.cures)), first=("set", "does"))
    yield record_table("beats", list(map(record_of, drilled.beats)), first=("stream", "set"))
    yield record_table(
        "uncured", list(map(record_of, drilled.uncured)), first=("fault", "unit", "output")
    )
    yield record_table(
        "violations", list(map(record_of, drilled.violations)), first=("stream", "figure")
    )


def _asked(drilled: Drilled) -> list[Record]:
    """One row a stream: the timeout that it has, and what the trade-off is judged by."""
    asked = drilled.asked
    return [
        {
            "stream": stream,
            "timeout_ms": drilled.timeout_ms.get(stream),
            "reaction_ms": reaction_ms,
            "nuisance_per_hour": asked.nuisance_per_hour,
            "hours": asked.hours,
        }
        for stream, reaction_ms in asked.reaction_ms.items()
    ]


def _notes(drilled: Drilled) -> list[Record]:
    """What was left out, assumed or changed, one row each."""
    told = {
        "skipped": drilled.skipped,
        "assumed": drilled.assumed,
        "note": drilled.notes,
        "not asked": drilled.asked.defaults,
        "guessed": drilled.guessed,
        "rests on": drilled.rests_on,
    }
    return [{"kind": kind, "text": text} for kind, texts in told.items() for text in texts]
