"""What may hurt, the worst first: each in a sentence."""

from collections.abc import Iterator
from enum import IntEnum
from itertools import chain
from typing import NamedTuple

from radiosim.assess.aftermath import (
    befell_text,
    blind_spots,
    fault_name,
    in_starts,
    lacks_watchdog,
    never_came,
    never_fresh,
    still_driven_outputs,
)
from radiosim.assess.answers import STARVING_SHARE, reads_less_than, verdict
from radiosim.assess.in_words import brownouts_text, noise_text, nuisance_text, unmet_text
from radiosim.counted import counted
from radiosim.measure.scripted import has_no_effect, is_cut, is_reached
from radiosim.measure.summary import (
    FaultFigures,
    NoiseFigures,
    Reaction,
    RequirementFigures,
    Summary,
)
from radiosim.results.formats import duration_text, fmt_exact, fmt_percent, list_text
from radiosim.scenario import Scenario
from radiosim.scenario.danger import (
    frozen_unseen,
    hang_unseen,
    lost_for_good,
    outputs_by_danger,
    streams_by_danger,
)
from radiosim.scenario.structs.failsafe_and_fault import Failsafe

BUSY_SHARE = 0.1
"""Share of samples skipped from which on a busy radio is a hazard."""


class Rank(IntEnum):
    """How bad a hazard is, the worst first."""

    NEVER_CAME = 0
    STILL_DRIVEN = 1
    NO_BOUND = 2
    NOISE = 3
    NEVER_FRESH = 4
    BROWNS_OUT = 5
    NEVER_ALIVE = 6
    STARVES = 7
    FAILED = 8
    FOUND = 9
    NOT_JUDGED = 10
    WARNING = 11


class Hazard(NamedTuple):
    """What may hurt, and how bad it is."""

    rank: Rank
    text: str


def hazards(summary: Summary, scenario: Scenario) -> tuple[Hazard, ...]:
    """Sentences: failsafes that never come, requirements that do not hold, doubts."""
    found = (*_measured(summary, scenario), *_judged(summary), *_told(summary))
    return tuple(sorted(found, key=lambda hazard: hazard.rank))


def _measured(summary: Summary, scenario: Scenario) -> Iterator[Hazard]:
    for name, reaction in summary.reaction.items():
        yield from _of_reaction(summary, scenario, name, reaction)
    for fault in summary.figures.faults:
        yield from _of_fault(summary, scenario, fault)
    yield from _of_units(scenario)
    if browned_out := brownouts_text(summary):
        yield Hazard(Rank.BROWNS_OUT, f"{browned_out}: no pulses until it has booted")
    for name in summary.figures.stream:
        yield from _of_stream(summary, scenario, name)


def _judged(summary: Summary) -> Iterator[Hazard]:
    unjudged: dict[str, list[RequirementFigures]] = {}
    for requirement in summary.requirements:
        if requirement.ok is False:
            yield Hazard(Rank.FAILED, unmet_text(requirement))
        elif requirement.ok is None:
            unjudged.setdefault(requirement.why, []).append(requirement)
    for why, alike in unjudged.items():
        # One reason is said once: the list of requirements names them all.
        text = f"{len(alike)} requirements not judged: {why}"
        yield Hazard(Rank.NOT_JUDGED, unmet_text(alike[0]) if len(alike) == 1 else text)


def _told(summary: Summary) -> Iterator[Hazard]:
    wrong = [found for found in summary.findings or () if not found.is_note]
    if wrong:
        count = counted(len(wrong), "finding")
        yield Hazard(Rank.FOUND, f"{count} below: what is wrong, its proof and its cure")
    for text in summary.warnings:
        yield Hazard(Rank.WARNING, text)


def _of_units(scenario: Scenario) -> Iterator[Hazard]:
    """What no fault of the scenario need show: units that fail, and nothing sees or ends it."""
    frozen = {name: frozen_unseen(scenario, name) for name in streams_by_danger(scenario)}
    streams = tuple(name for name, outputs in frozen.items() if outputs)
    if streams:
        names = outputs_by_danger(scenario, chain.from_iterable(frozen.values()))
        text = (
            f"if {list_text(streams, 'or')} freezes and repeats its last values, they feed its "
            f"failsafe (no watch_field), and nothing stops {list_text(names)}"
        )
        yield Hazard(Rank.STILL_DRIVEN, text)
    names = hang_unseen(scenario)
    if names:
        text = (
            "if the receiver's program hangs, nothing resets it (no watchdog), its pulses go on, "
            f"and nothing stops {list_text(names)}"
        )
        yield Hazard(Rank.STILL_DRIVEN, text)
    lost = lost_for_good(scenario)
    if lost:
        text = (
            f"if the radio of {list_text(lost, 'or')} loses its settings in a supply dip, it stays "
            "silent until its power is switched off and on (no recheck_ms)"
        )
        yield Hazard(Rank.NEVER_FRESH, text)


def _of_reaction(
    summary: Summary, scenario: Scenario, stream: str, reaction: Reaction
) -> Iterator[Hazard]:
    """One sentence for a stream without a failsafe, else one for each reason of no bound."""
    unbound = outputs_by_danger(
        scenario, (name for name, bound_ms in reaction.bound_ms.items() if bound_ms is None)
    )
    if reaction.timeout_ms is None:
        what = list_text(unbound) or "what it drives"
        text = f"{stream} has NO FAILSAFE: if its transmitter goes silent, nothing stops {what}"
        yield Hazard(Rank.NO_BOUND, text)
        return
    reasons = dict.fromkeys(reaction.why.get(name, "") for name in unbound)
    for why in reasons:
        names = tuple(name for name in unbound if reaction.why.get(name, "") == why)
        text = f"{list_text(names)}: NO BOUND on the failsafe reaction time"
        yield Hazard(Rank.NO_BOUND, f"{text}: {why}" if why else text)


def _of_fault(summary: Summary, scenario: Scenario, fault: FaultFigures) -> Iterator[Hazard]:
    """One sentence for all that a fault did harm to, as bad as the worst of it."""
    if not is_reached(summary, fault) or has_no_effect(summary, fault):
        return
    harm = list(_harm(summary, scenario, fault))
    if harm:
        texts = "; ".join(each.text for each in harm)
        rank = min(each.rank for each in harm)
        yield Hazard(rank, f"fault at {fault_name(fault)}: {texts}")


def _harm(summary: Summary, scenario: Scenario, fault: FaultFigures) -> Iterator[Hazard]:
    missed = never_came(scenario, fault)
    for befallen in missed:
        yield Hazard(Rank.NEVER_CAME, befell_text(summary, fault, befallen))
    if missed and lacks_watchdog(scenario, fault):
        yield Hazard(Rank.STILL_DRIVEN, "a hung receiver without a watchdog keeps its pulses going")
    for spot in blind_spots(summary, fault) if missed else ():
        yield Hazard(Rank.NO_BOUND, f"{fault.unit}'s failsafe is blind to {spot}")
    driven = still_driven_outputs(summary, scenario, fault)
    if driven:
        yield Hazard(Rank.STILL_DRIVEN, f"STILL DRIVEN for good: {list_text(driven)}")
    never = never_fresh(summary, scenario, fault)
    if never:
        starts = in_starts(summary, fault.unrecovered_starts)
        yield Hazard(Rank.NEVER_FRESH, f"NEVER FRESH AGAIN{starts}: {list_text(never)}")


def _of_stream(summary: Summary, scenario: Scenario, name: str) -> Iterator[Hazard]:
    """A stream that cannot keep its outputs alive, or whose transmitter cannot keep up."""
    word = verdict(summary, scenario, name)
    figures = summary.figures.stream[name]
    if word == "silent":
        text = f"{name}: none of its {counted(figures.sampled, 'frame')} was ever read"
        yield Hazard(Rank.STARVES, text)
    elif word == "starves":
        yield Hazard(
            Rank.STARVES, f"{name} STARVES: {'; '.join(_starving(summary, scenario, name))}"
        )
    if isinstance(figures.noise, NoiseFigures):
        yield Hazard(Rank.NOISE, _noise(summary, scenario, name, figures.noise))
    if figures.skipped > BUSY_SHARE * figures.sampled:
        yield Hazard(Rank.STARVES, _busy(scenario, name, figures.skipped / figures.sampled))
    dead = tuple(
        output
        for output, driven in summary.figures.output.items()
        if driven.stream == name and driven.update_rate_hz == 0
    )
    if dead and figures.read and name in scenario.failsafe:
        yield Hazard(
            Rank.NEVER_ALIVE, _never_alive(scenario.failsafe[name], name, dead, figures.read)
        )


def _noise(summary: Summary, scenario: Scenario, name: str, noise: NoiseFigures) -> str:
    """What noise does that passes for frames of a stream."""
    driven = (key for key, output in scenario.output.items() if output.stream == name)
    outputs = list_text(outputs_by_danger(scenario, driven))
    does = [f"drives {outputs} at random"] if outputs else []
    does += ["feeds its failsafe as a frame does"] if name in scenario.failsafe else []
    text = f"{name}: {noise_text(summary, noise)}"
    return f"{text}; each {list_text(does)}" if does else text


def _starving(summary: Summary, scenario: Scenario, name: str) -> Iterator[str]:
    figures = summary.figures.stream[name]
    if reads_less_than(STARVING_SHARE, summary, scenario, name):
        yield f"only {fmt_percent(figures.delivery_ratio)} of its samples were read"
        if 2 * figures.fifo_dropped > figures.attempts:
            yield "most attempts found the receiver's FIFO full"
    if not is_cut(summary, name):
        # What a fault explains is no sign of starving.
        yield f"gaps of up to {duration_text(figures.gap_ms.max)}"
    if figures.failsafe is not None and figures.failsafe.nuisance_trips:
        yield nuisance_text(summary, figures.failsafe)


def _busy(scenario: Scenario, name: str, skipped: float) -> str:
    unit = scenario.transmitter[name]
    text = f"{name}: {fmt_percent(skipped)} of samples skipped: the radio is still busy"
    if unit.period_ms is None:
        return text
    retries = unit.retry_limit if unit.acknowledge is True else 0
    plural = "retry" if retries == 1 else "retries"
    what = f"{retries} {plural}" if retries else "a frame"
    return f"{text}; {fmt_exact(unit.period_ms)} ms is too short for {what}"


def _never_alive(timer: Failsafe, stream: str, dead: tuple[str, ...], read: int) -> str:
    """Why outputs stay on failsafe though values are read."""
    needs, row = timer.resume_needs, timer.resume_frames
    waits = "a frame" if row == 1 else f"{row} frames in a row (resume_frames)"
    if needs is not None:
        waits += f" and {needs.field} within {needs.within:g} of its neutral (resume_needs)"
    verb = "NEVER COMES" if len(dead) == 1 else "NEVER COME"
    were = "was" if read == 1 else "were"
    return (
        f"{list_text(dead)} {verb} ALIVE: {counted(read, 'frame')} of {stream} {were} read, "
        f"but its failsafe waits for {waits}; what else is said of them means little"
    )
