"""A failsafe drill on the terminal: the verdict and the worst first."""

from collections.abc import Iterator, Sequence
from itertools import groupby
from shlex import quote

from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from radiosim.counted import counted
from radiosim.report.drill.trade import trade_lines
from radiosim.report.drill.unmet import unmet_text
from radiosim.report.drill.worst_output import latest, past_bounds, stops_of, worst_output
from radiosim.report.terminal.parts import Cell, Trimmed, block, hanging
from radiosim.report.terminal.requirements import requirement_row, verdict_text
from radiosim.report.terminal.words import digits, listed, printable
from radiosim.study.drill.results import (
    FAILED,
    HELD,
    OK,
    SHORT,
    UNTRIED,
    Drilled,
    DrillFigures,
    StreamBound,
    WorstStop,
)

FIRST = (
    "Do these drills on the bench too: wheels off the ground, propellers off, nobody within reach "
    "of what moves."
)
LAST = "A simulation is not proof: try the failsafe on the bench; check your local radio rules."
CURES = "To try: add to the command; then build it, and drill it on the bench"
_WORD = {
    OK: Text("ok", style="green"),
    FAILED: Text("FAILED", style="bold red"),
    HELD: Text("holds", style="yellow"),
    SHORT: Text("short"),
    UNTRIED: Text("UNTRIED", style="bold red"),
}


def print_drilled(drilled: Drilled, console: Console, *, speed_m_s: float | None = None) -> None:
    """Print it, 80 columns wide."""
    parts = (
        *_head(drilled),
        *_hazards(drilled),
        *_cures(drilled),
        *_worst(drilled, speed_m_s),
        *_drills(drilled),
        *_bounds(drilled),
        *trade_lines(drilled),
        *_requirements(drilled),
    )
    for part in (*parts, Text(LAST)):
        console.print(Trimmed(part=part), end="")


def _head(drilled: Drilled) -> Iterator[RenderableType]:
    title = printable(drilled.title or drilled.scenario or "A scenario without a title")
    kinds = len({(drill.fault, drill.unit) for drill in drilled.drills})
    made_by = f"seed {drilled.seed}, {drilled.engine} engine"
    text = (
        f": {counted(kinds, 'fault')} drilled, {counted(drilled.repeats, 'time')} each ({made_by})"
    )
    yield Text.assemble((title, "bold"), text)
    yield Text(FIRST)
    if drilled.skipped:
        yield Text(f"Left out as asked: {listed(drilled.skipped)}.")
    yield Text()
    yield Text(_verdict(drilled), style="bold")


def _verdict(drilled: Drilled) -> str:
    if drilled.ok:
        held = drilled.held
        what = f", but {listed(held)} {'do' if len(held) > 1 else 'does'} not stop at every fault"
        return f"VERDICT: PASSED{what if held else ''}"
    failed = len({(drill.fault, drill.unit) for drill in drilled.failed})
    if failed:
        return f"VERDICT: FAILED at {counted(failed, 'fault')}"
    return f"VERDICT: FAILED{', not within what was asked' if drilled.unmet else ''}"


def _hazards(drilled: Drilled) -> Iterator[RenderableType]:
    """What may hurt, each with its output, its fault and its cause."""
    rows = [(Text("!", style="bold red"), text) for text in hazards(drilled)]
    if rows:
        yield hanging(rows, widths=(1,))
    yield Text()


def _cures(drilled: Drilled) -> Iterator[RenderableType]:
    """Keys to paste, in the order of the table of cures."""
    if drilled.cures:
        yield block(CURES, hanging([(f"  {text}",) for text in cure_texts(drilled)]))


def cure_texts(drilled: Drilled) -> Iterator[str]:
    """Each key as an option that a shell takes, with what it does as a comment."""
    for cure in drilled.cures:
        yield f"--set {quote(cure.set)}  # {cure.does}"


def hazards(drilled: Drilled) -> tuple[str, ...]:
    """Outputs left alive, late, without a stop, stopped for another's fault, lost; worst first."""
    found = [*_still_driven(drilled.failed), *map(unmet_text, drilled.unmet)]
    found += [
        f"{other.output} stopped {counted(other.stops, 'time')} at {other.fault} {other.unit}, "
        "which is not its fault to answer"
        for other in drilled.touched
    ]
    found += [verdict_text(r) for r in drilled.requirements if not r.ok]
    found += map(printable, drilled.notes)
    found += _by_cause(drilled.untried, "NOT TRIED")
    found += _by_cause(
        [d for d in drilled.drills if d.verdict == HELD], "NO STOP, as the scenario says"
    )
    found += _not_back(drilled.drills)
    return tuple(found)


def _not_back(drills: Sequence[DrillFigures]) -> Iterator[str]:
    """One line a cause: after which faults fresh values never came."""
    by_cause: dict[str, list[str]] = {}
    for drill in drills:
        if drill.why_unrecovered:
            by_cause.setdefault(drill.why_unrecovered, []).append(f"{drill.fault} {drill.unit}")
    for why, faults in by_cause.items():
        yield f"NOT BACK after {listed(tuple(dict.fromkeys(faults)))}: {why}"


def _still_driven(drills: Sequence[DrillFigures]) -> Iterator[str]:
    alive = [drill for drill in drills if drill.still_driven]
    yield from _by_cause(alive, "STILL DRIVEN")
    yield from _by_cause([drill for drill in drills if not drill.still_driven], "TOO LATE")


def _by_cause(drills: Sequence[DrillFigures], what: str) -> list[str]:
    """One line a cause: which outputs, at which faults, why."""
    by_cause: dict[str, list[DrillFigures]] = {}
    for drill in drills:
        by_cause.setdefault(_cause(drill.why), []).append(drill)
    lines = []
    for why, mine in by_cause.items():
        outputs = tuple(dict.fromkeys(drill.output for drill in mine))
        faults = tuple(dict.fromkeys(f"{drill.fault} {drill.unit}" for drill in mine))
        lines.append(f"{what}: {listed(outputs)} at {listed(faults)}: {why}")
    return lines


def _cause(why: str) -> str:
    """A cause without how often it showed."""
    return why.split("points: ", 1)[-1]


def _worst(drilled: Drilled, speed_m_s: float | None) -> Iterator[RenderableType]:
    rows = [
        (f"  {stream}", worst_text(worst, speed_m_s)) for stream, worst in drilled.worst.items()
    ]
    if rows:
        yield block("Worst stop of each stream", hanging(rows))


def worst_text(worst: WorstStop, speed_m_s: float | None) -> str:
    """How long a stream's worst stop takes, where, and how far the vehicle gets meanwhile."""
    where = f"{worst.output} at {worst.fault} {worst.unit}"
    if worst.reaction_ms is None:
        return "; ".join((f"NEVER: {where}: {_cause(worst.why)}", *_ways(worst, speed_m_s)))
    text = f"{digits(worst.reaction_ms)} ms: {where}"
    if worst.stopping_ms > worst.reaction_ms:
        last = f"{worst.last_output} at {worst.last_fault}"
        text += f"; {'' if last == where else last + ' '}stands still after "
        text += f"{digits(worst.stopping_ms)} ms"
    return "; ".join((text, *_ways(worst, speed_m_s)))


def _ways(worst: WorstStop, speed_m_s: float | None) -> Iterator[str]:
    """How far the vehicle gets, if an output of the stream drives it."""
    if speed_m_s is None:
        return
    if worst.carries_on:
        yield f"drives on at {digits(speed_m_s)} m/s until somebody catches it"
    if worst.carried_ms is not None:
        way_m = speed_m_s * worst.carried_ms / 1000
        where = "where it does stop, " if worst.carries_on else ""
        yield f"{where}up to {digits(way_m)} m on at {digits(speed_m_s)} m/s"


def _drills(drilled: Drilled) -> Iterator[RenderableType]:
    made = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="dim")
    for title in ("fault", "worst output"):
        made.add_column(title, overflow="fold")
    for title in ("median", "99 %", "worst", "bound", "still", "back"):
        made.add_column(title, justify="right", overflow="fold")
    made.add_column("")
    for (fault, unit), group in groupby(drilled.drills, key=lambda d: (d.fault, d.unit)):
        made.add_row(*_row(f"{fault} {unit}", tuple(group)))
    notes = hanging([(Text(" ".join(_notes(drilled)), style="dim"),)])
    yield block("Drills: ms from the fault until failsafe is in effect", made, notes)


def _row(name: str, group: Sequence[DrillFigures]) -> Sequence[Cell]:
    drill = worst_output(group)
    stop = stops_of(drill)
    return (
        name,
        drill.output,
        digits(stop.median),
        digits(stop.p99),
        digits(stop.max),
        "none" if drill.bound_ms is None else digits(drill.bound_ms),
        digits(None if drill.still_driven else latest(it.stopping_ms for it in group)),
        digits(latest(it.recovered_ms for it in group)),
        _WORD[drill.verdict],
    )


def _notes(drilled: Drilled) -> Iterator[str]:
    verdicts = {drill.verdict for drill in drilled.drills}
    yield "99 %: of the faults were no slower. Bound: at most, from the last frame that counted."
    yield "Still: until all servos and motors of its streams stand. Back: from the fault's end"
    yield "until values are fresh again, boot included. Both at worst, of all outputs."
    later = past_bounds(drilled.drills)
    if later:
        yield later
    if SHORT in verdicts:
        yield "short: the fault was over before anything had to stop."
    if HELD in verdicts:
        yield "holds: the scenario wants the output to hold its last value."
    yield from _others_notes(drilled)


def _others_notes(drilled: Drilled) -> Iterator[str]:
    untried = tuple(dict.fromkeys(other.output for other in drilled.untried_others))
    if not drilled.touched and any(other.repeats for other in drilled.others):
        but = f", but for {listed(untried)}" if untried else ""
        yield f"Outputs of streams without the fault went on through all drills{but}."
    if untried:
        were, go_on = ("were", "they go on") if len(untried) > 1 else ("was", "it goes on")
        yield (
            f"{listed(untried)} {were} never alive as other streams failed: not tried whether "
            f"{go_on}."
        )


def _bounds(drilled: Drilled) -> Iterator[RenderableType]:
    rows = [
        (f"  {stream}" if number == 0 else "", text)
        for stream, bound in drilled.bound.items()
        for number, text in enumerate(_bound_texts(drilled, stream, bound))
    ]
    yield block("What the longest stop is made of, when a transmitter falls silent", hanging(rows))


def _bound_texts(drilled: Drilled, stream: str, bound: StreamBound) -> Iterator[Cell]:
    if bound.total_ms is None:
        where = f"{bound.output}: " if bound.output else ""
        yield Text(f"NO BOUND: {where}{bound.why}", style="bold red")
        return
    longest = max(bound.terms, key=lambda term: term.ms)
    for term in bound.terms:
        mark = "  <- shorten this first" if term is longest else ""
        yield f"{digits(term.ms):>6} ms  {term.name}{mark}"
    yield f"{digits(bound.total_ms):>6} ms  in all, for {bound.output}{_reach(drilled, bound)}"


def _reach(drilled: Drilled, bound: StreamBound) -> str:
    """How near the drills came to the worst that can be reached."""
    near = [
        (drill.silence_ms.max, drill.reachable_ms)
        for drill in drilled.drills
        if drill.output == bound.output
        and drill.bound_ms == bound.total_ms
        and drill.silence_ms.max is not None
        and drill.reachable_ms
    ]
    if not near:
        return ""
    seen_ms, reach_ms = max(near)
    return f"; reachable {digits(reach_ms)}, drilled {digits(seen_ms)}"


def _requirements(drilled: Drilled) -> Iterator[RenderableType]:
    if drilled.requirements:
        yield block(
            "Requirements on stopping times", hanging(map(requirement_row, drilled.requirements))
        )
