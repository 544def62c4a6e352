"""What a failsafe drill says in sentences: the verdict, what may hurt, and what was asked."""

from collections.abc import Callable, Iterator, Sequence
from shlex import quote

from radiosim.assess.in_words import requirement_text, unmet_text
from radiosim.counted import counted
from radiosim.measure.summary import RequirementFigures
from radiosim.results.document import Role, Sentence
from radiosim.results.formats import duration_text, fmt_exact, fmt_percent, fmt_sig3, list_text
from radiosim.safety import RUNS_ON
from radiosim.study.drill.results import (
    FAILS,
    HOLDS,
    KEEPS,
    SHORT,
    UNTRIED,
    Drilled,
    DrillFigures,
    FeasibleRange,
    Violation,
    WorstReaction,
)

MUCH_MORE = 1.2
"""How much more time than was asked for is worth a word: more than rounding up to whole starts."""


def fault_names(drills: Sequence[DrillFigures]) -> tuple[str, ...]:
    """The faults of some drills, each once."""
    return tuple(dict.fromkeys(f"{drill.fault} {drill.unit}" for drill in drills))


def verdict_text(drilled: Drilled) -> str:
    """Whether all of it is as it should be, and what is not."""
    if drilled.ok:
        keeping = drilled.keeping
        if keeping:
            do_keep = "keep their values" if len(keeping) > 1 else "keeps its value"
            return f"HOLDS, but {list_text(keeping)} {do_keep} at some fault (on_failsafe is hold)."
        return "HOLDS: no output is late or still driven at any fault that was drilled."
    return f"FAILS{_failing_text(drilled)}"


def _failing_text(drilled: Drilled) -> str:
    """Where a drill that is not well fails, or what of it."""
    failed = fault_names(drilled.failed)
    if failed:
        of = len(fault_names(drilled.drills))
        return f" at {len(failed)} of {of} faults: not every output is on failsafe in time."
    if drilled.violations:
        streams = tuple(dict.fromkeys(violation.stream for violation in drilled.violations))
        do_keep = "do not keep" if len(streams) > 1 else "does not keep"
        return f": {list_text(streams)} {do_keep} what was asked."
    if drilled.touched:
        return ": failsafe trips at a fault of another stream."
    if not all(requirement.ok for requirement in drilled.requirements):
        return ": a requirement does not hold, or could not be judged."
    if drilled.guessed:
        return f": the failsafe value of {list_text(drilled.guessed)} is a guess."
    return ": not every drill could be tried."


def warnings(drilled: Drilled) -> tuple[Sentence, ...]:
    """Outputs still driven, late, tripped for another's fault, lost; the worst first."""
    return tuple(Sentence(text=text, role=role) for text, role in _warnings(drilled))


def _warnings(drilled: Drilled) -> Iterator[tuple[str, Role]]:
    driven = [drill for drill in drilled.failed if drill.still_driven]
    unbound = [d for d in drilled.failed if not d.still_driven and d.bound_ms is None]
    late = [d for d in drilled.failed if not d.still_driven and d.bound_ms is not None]
    kept = [drill for drill in drilled.drills if drill.verdict == KEEPS]
    bad = [
        *_by_cause(driven, "STILL DRIVEN"),
        *_by_cause(unbound, "NO BOUND"),
        *_by_cause(late, "TOO LATE"),
        *map(guess_text, drilled.guessed),
        *map(violation_text, drilled.violations),
        *(
            f"{other.output}: failsafe trips {counted(other.trips, 'time')} at {other.fault} "
            f"{other.unit}, which is a fault of another stream"
            for other in drilled.touched
        ),
        *(unmet_text(requirement) for requirement in drilled.requirements if not requirement.ok),
        *_by_cause(drilled.untried, "NOT TRIED"),
    ]
    for text in bad:
        yield text, "bad"
    for text in (
        *drilled.notes,
        *_by_cause(kept, "KEEPS ITS VALUE"),
        *_not_back(drilled.drills),
    ):
        yield text, "warn"


def guess_text(output: str) -> str:
    """What is wrong with a failsafe value that nobody has said, and what to say instead."""
    return (
        f"GUESSED: what {output} does on failsafe, because nothing says where it stands still: in "
        "the middle of its pulses a propeller or a controller that runs one way is at half "
        f"throttle. Measure it, propellers off, and set output.{output}: "
        "on_failsafe = { preset_us = PULSE }, or off for no pulses"
    )


def _not_back(drills: Sequence[DrillFigures]) -> Iterator[str]:
    """After which faults fresh values never came, a line for each cause."""
    for why, mine in _grouped(drills, lambda drill: drill.why_unrecovered):
        if why:
            yield f"NOT BACK after {list_text(fault_names(mine))}: {why}"


def _by_cause(drills: Sequence[DrillFigures], what: str) -> Iterator[str]:
    """Which outputs, at which faults, a line for each cause; motors, blades and tracks first."""
    first = sorted(drills, key=lambda drill: drill.danger)
    for why, mine in _grouped(first, lambda drill: drill.why):
        outputs = tuple(dict.fromkeys(drill.output for drill in mine))
        yield f"{what}: {list_text(outputs)} at {list_text(fault_names(mine))}: {why}"


def _grouped(
    drills: Sequence[DrillFigures], cause_of: Callable[[DrillFigures], str]
) -> Iterator[tuple[str, list[DrillFigures]]]:
    for cause in dict.fromkeys(map(cause_of, drills)):
        yield cause, [drill for drill in drills if cause_of(drill) == cause]


def violation_text(violation: Violation) -> str:
    """What a stream does, and what was asked on the command line."""
    stream, own_ms = violation.stream, violation.timeout_ms
    timeout = "" if own_ms is None else f"with its timeout of {duration_text(own_ms)} "
    if violation.figure == "nuisance_per_hour":
        found = _told(violation.found, violation.asked, fmt_sig3)
        asked = counted(violation.asked, "nuisance trip")
        return (
            f"{stream}: {timeout}it has at least {found} nuisance trips an hour (95 % sure), not "
            f"under the {asked} asked (--nuisance-per-hour)"
        )
    not_within = f"not within the {duration_text(violation.asked)} asked (--reaction-ms)"
    if violation.found is None:
        return f"{stream}: no bound for {violation.where}, {not_within}: {violation.why}"
    found = _told(violation.found, violation.asked, duration_text)
    if violation.is_drilled:
        return f"{stream}: {violation.where} reacts within {found}, {not_within}"
    return f"{stream}: {timeout}it reacts within {found}, {not_within}"


def _told(value: float | None, limit: float | None, show: Callable[[float | None], str]) -> str:
    """A value that does not look like the limit that it misses."""
    if value is None or limit is None or value == limit or show(value) != show(limit):
        return show(value)
    return show(value).replace(show(value).split(" ")[0], f"{value:.6g}", 1)


def requirement_sentence(requirement: RequirementFigures) -> Sentence:
    """A requirement with its verdict."""
    lead, role = _VERDICTS[requirement.ok]
    return Sentence(lead=lead, text=requirement_text(requirement), role=role)


_VERDICTS: dict[bool | None, tuple[str, Role]] = {
    True: ("holds", "good"),
    False: ("FAILED", "bad"),
    None: ("not judged", "warn"),
}


def worst_text(worst: WorstReaction, speed_m_s: float | None) -> str:
    """How long a stream's worst reaction takes, where, and how far the vehicle gets meanwhile."""
    where = f"{worst.output} at {worst.fault} {worst.unit}"
    if worst.reaction_ms is None:
        return "; ".join((f"STILL DRIVEN: {where}: {worst.why}", *_ways(worst, speed_m_s)))
    text = f"{duration_text(worst.reaction_ms)}: {where}"
    if worst.stopping_ms > worst.reaction_ms:
        last = f"{worst.last_output} at {worst.last_fault}"
        text += f"; {'' if last == where else last + ' '}stands still after "
        text += duration_text(worst.stopping_ms)
    return "; ".join((text, *_ways(worst, speed_m_s)))


def _ways(worst: WorstReaction, speed_m_s: float | None) -> Iterator[str]:
    """How far the vehicle gets, if an output of the stream drives it."""
    if speed_m_s is None:
        return
    if worst.carries_on:
        yield f"what it drives goes on, a vehicle at {fmt_sig3(speed_m_s)} m/s, {RUNS_ON}"
    if worst.carried_ms is not None:
        way_m = speed_m_s * worst.carried_ms / 1000
        where = "where it does stop, " if worst.carries_on else ""
        yield f"{where}up to {fmt_sig3(way_m)} m on at {fmt_sig3(speed_m_s)} m/s"


def feasible_sentences(drilled: Drilled, stream: str) -> tuple[Sentence, ...]:
    """What each limit leaves, and both together."""
    feasible, asked = drilled.feasible_range[stream], drilled.asked
    trips = f"nuisance trips under {asked.nuisance_per_hour:g}/h"
    reaction = f"reaction within {duration_text(asked.reaction_ms[stream])}"
    role: Role = "warn"
    text = "NOT SHOWN" if feasible.is_unshown else "NONE"
    if not feasible.is_empty:
        shortest, longest = feasible.shortest_ms, feasible.longest_ms
        text, role = f"{duration_text(shortest)} to {duration_text(longest)}", "good"
    return (
        Sentence(lead=trips, text=_from(drilled, stream)),
        Sentence(lead=reaction, text=_up_to(feasible)),
        Sentence(lead="feasible range", text=text, role=role),
    )


def rest_sentences(drilled: Drilled, stream: str) -> Iterator[Sentence]:
    """On what a stream's nuisance trips rest, and which beat of clocks brings them about."""
    yield Sentence(lead="rests on", text=", ".join(drilled.rests_on))
    for beat in drilled.beats:
        if beat.stream == stream:
            pair = f"{beat.first} and {beat.second}"
            yield Sentence(
                lead="clocks beat",
                text=f"that {pair} beat is what trips: of {counted(beat.trips, 'trip')} in "
                f"{counted(beat.starts, 'start')}, {beat.left} are left with --set {beat.set}",
                role="warn",
            )


def nothing_to_weigh(drilled: Drilled, stream: str) -> str:
    """Why a table of a stream's timeouts would be one of zeros; empty: it would not."""
    curve = drilled.trade_off[stream]
    if any(point.nuisance_trips for point in curve):
        return ""
    if all(point.is_dead for point in curve):
        alive = max(point.alive_share for point in curve)
        return (
            f"{stream}: no timeout to weigh: its outputs are alive for {fmt_percent(alive)} of the "
            "time at most, whatever the timeout, and what is on failsafe does not trip"
        )
    if any(point.is_dead for point in curve):
        return ""
    shortest = duration_text(curve[0].timeout_ms)
    hours = duration_text(1000 * drilled.trade_off_s)
    return f"{stream}: no nuisance trip in {hours} at any timeout from {shortest} on"


def _from(drilled: Drilled, stream: str) -> str:
    shortest_ms, last = drilled.feasible_range[stream].shortest_ms, drilled.trade_off[stream][-1]
    if shortest_ms is not None:
        return f"timeouts from {duration_text(shortest_ms)}"
    is_sure = last.is_dead or last.is_surely_above(drilled.asked.nuisance_per_hour)
    return "no timeout tried" if is_sure else "not shown"


def _up_to(feasible: FeasibleRange) -> str:
    if feasible.longest_ms is None:
        return "no timeout"
    return f"timeouts up to {duration_text(feasible.longest_ms)}"


def trade_off_note(drilled: Drilled) -> str:
    """On what timeouts were tried, and what nobody asked for."""
    tried = duration_text(1000 * drilled.trade_off_s)
    text = f"All timeouts were tried on the same {tried} without faults."
    hours = drilled.asked.hours
    if hours is not None and drilled.trade_off_s > MUCH_MORE * 3600 * hours:
        text += (
            f" {fmt_exact(hours)} h (--hours) were too short for that: it takes a few starts, each "
            "as long as the scenario."
        )
    shown = [of for name, of in drilled.trade_off.items() if not nothing_to_weigh(drilled, name)]
    if any(point.is_dead for curve in shown for point in curve):
        text += " DEAD: alive for less than half of the time; what is on failsafe does not trip."
    if drilled.asked.defaults:
        text += f" Nobody asked, so: {'; '.join(drilled.asked.defaults)}."
    return text


def drills_note(drilled: Drilled) -> str:
    """What the columns of the drills say, and what becomes of other streams."""
    verdicts = {drill.verdict for drill in drilled.drills}
    if verdicts == {UNTRIED}:
        none = "No fault could be tried on any output: their table would be empty."
        return " ".join((none, *_others_texts(drilled)))
    parts = [
        "Output: the worst of those that the fault strikes. Bound: at most, from the last frame "
        "that counted. Stopping: until all servos and motors of its streams stand. Back: from the "
        "fault's end until values are fresh again, boot included. Both at worst, of all outputs.",
        past_bounds_text(drilled.drills),
        "Short: the fault was over before anything was due." if SHORT in verdicts else "",
        "Keeps value: its on_failsafe is hold, so it holds its last value."
        if KEEPS in verdicts
        else "",
        *_others_texts(drilled),
    ]
    return " ".join(part for part in parts if part)


def past_bounds_text(drills: Sequence[DrillFigures]) -> str:
    """Why reactions that hold may come later after the fault than their bound is long."""
    later = [
        drill
        for drill in drills
        if drill.verdict == HOLDS
        and drill.bound_ms is not None
        and (drill.reaction_ms.max or 0.0) > drill.bound_ms
    ]
    if not later:
        return ""
    return (
        f"{list_text(fault_names(later))}: worst is past its bound, which counts from the last "
        "frame that the receiver had not seen: where frames are lost, that came after the fault."
    )


def _others_texts(drilled: Drilled) -> Iterator[str]:
    untried = tuple(dict.fromkeys(other.output for other in drilled.untried_others))
    if not drilled.touched and any(other.repeats for other in drilled.others):
        but = f", but for {list_text(untried)}" if untried else ""
        yield f"Outputs of streams without the fault went on through all drills{but}."
    if untried:
        were, go_on = ("were", "they go on") if len(untried) > 1 else ("was", "it goes on")
        yield (
            f"{list_text(untried)} {were} never alive as other streams failed: not tried whether "
            f"{go_on}."
        )


def cure_sentences(drilled: Drilled) -> Iterator[Sentence]:
    """The lines to paste, what each does, and what became of all drills with them."""
    for cure in drilled.cures:
        yield Sentence(text=f"--set {quote(cure.set)}", form="code")
    if drilled.cures:
        driven = {(one.fault, one.unit) for one in drilled.uncured}
        left = (
            f"{counted(len(driven), 'fault')} of them no setting cures"
            if driven
            else "no output is left driven, and none is lost"
        )
        yield Sentence(text=f"All drills were done again with all of these lines: {left}.")
    for does in dict.fromkeys(cure.does for cure in drilled.cures):
        keys = (cure.set.partition("=")[0] for cure in drilled.cures if cure.does == does)
        yield Sentence(text=f"{list_text(tuple(keys))}: {does}", form="item")
    for fault, outputs, instead in _uncured(drilled):
        yield Sentence(
            lead="no setting",
            text=f"cures {outputs} at {fault}: {instead}.",
            role="bad",
        )


def _uncured(drilled: Drilled) -> Iterator[tuple[str, str, str]]:
    """By what is to be done instead: faults and outputs."""
    for instead in dict.fromkeys(one.instead for one in drilled.uncured):
        those = [one for one in drilled.uncured if one.instead == instead]
        outputs = tuple(dict.fromkeys(one.output for one in those))
        faults = tuple(dict.fromkeys(f"{one.fault} {one.unit}" for one in those))
        yield list_text(faults), list_text(outputs), instead


def failure_text(drill: DrillFigures) -> str:
    """Why one output fails, and at how many faults if not at all."""
    if drill.verdict == FAILS and 0 < drill.still_driven_repeats < drill.repeats:
        return f"after {drill.still_driven_repeats} of {drill.repeats} faults: {drill.why}"
    return drill.why
