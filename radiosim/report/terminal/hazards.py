"""What may hurt, before everything else: each in a line or two, marked with "!"."""

from collections.abc import Iterator
from enum import IntEnum

from rich.console import RenderableType
from rich.text import Text

from radiosim.counted import counted
from radiosim.measure.summary import FaultFigures, Finding, RequirementFigures, Stopping, Summary
from radiosim.report.terminal.aftermath import (
    Fate,
    blind_spots,
    has_no_effect,
    is_reached,
    lacks_watchdog,
    never_fresh,
    still_driven_outputs,
)
from radiosim.report.terminal.failsafe import nuisance_text
from radiosim.report.terminal.faults import fate_text, fates, fault_name, in_starts
from radiosim.report.terminal.parts import hanging
from radiosim.report.terminal.requirements import verdict_text
from radiosim.report.terminal.verdict import STARVING_SHARE, reads_less_than, verdict
from radiosim.report.terminal.words import digits, limit, listed, printable, share
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import Failsafe

BUSY_SHARE = 0.1
"""Share of samples skipped from which on a busy radio is a hazard."""


class Rank(IntEnum):
    """How bad a hazard is, the worst first."""

    CANNOT_WORK = 0
    NEVER_CAME = 1
    STILL_DRIVEN = 2
    NO_BOUND = 3
    NEVER_FRESH = 4
    NEVER_ALIVE = 5
    STARVES = 6
    FAILED = 7
    FOUND = 8
    NOT_JUDGED = 9
    WARNING = 10


Hazard = tuple[Rank, str]


def hazards(summary: Summary, scenario: Scenario) -> tuple[str, ...]:
    """The worst first: stops that never come, requirements that do not hold, doubts."""
    found = (*_measured(summary, scenario), *_judged(summary), *_told(summary))
    return tuple(text for _, text in sorted(found, key=lambda hazard: hazard[0]))


def hazard_lines(texts: tuple[str, ...]) -> Iterator[RenderableType]:
    """The hazards as they are printed."""
    if texts:
        yield hanging(((Text("!", style="bold red"), text) for text in texts), widths=(1,))
        yield Text()


def _measured(summary: Summary, scenario: Scenario) -> Iterator[Hazard]:
    for name, stopping in summary.stopping.items():
        yield from _of_stopping(summary, name, stopping)
    for fault in summary.figures.faults:
        yield from _of_fault(summary, scenario, fault)
    for name in summary.figures.stream:
        yield from _of_stream(summary, scenario, name)


def _judged(summary: Summary) -> Iterator[Hazard]:
    unjudged: dict[str, list[RequirementFigures]] = {}
    for requirement in summary.requirements:
        if requirement.ok is False:
            yield Rank.FAILED, verdict_text(requirement)
        elif requirement.ok is None:
            unjudged.setdefault(requirement.why, []).append(requirement)
    for why, alike in unjudged.items():
        # One reason is told once: the list of requirements names them all.
        text = f"{len(alike)} requirements not judged: {why}"
        yield Rank.NOT_JUDGED, verdict_text(alike[0]) if len(alike) == 1 else text


def _told(summary: Summary) -> Iterator[Hazard]:
    count = len(summary.findings)
    if count:
        plural = "s" if count > 1 else ""
        yield Rank.FOUND, f"{count} finding{plural} below: what is wrong, its proof and its cure"
    for text in summary.warnings:
        yield Rank.WARNING, printable(text)


def _of_stopping(summary: Summary, stream: str, stopping: Stopping) -> Iterator[Hazard]:
    """One line a stream that nothing stops, else one for each reason why an output may not stop."""
    unbound = tuple(name for name, bound_ms in stopping.bound_ms.items() if bound_ms is None)
    if stopping.timeout_ms is None:
        what = listed(unbound) or "what it drives"
        text = f"{stream} has NO FAILSAFE: if its transmitter goes silent, nothing stops {what}"
        yield Rank.NO_BOUND, text
        return
    if stopping.cannot_work:
        cures = [f.cure for f in summary.findings if _is_about(f, stopping)]
        cure = "".join(f". Cure: {cure}" for cure in cures)
        text = f"{stream}: THIS FAILSAFE CANNOT WORK: {stopping.cannot_work}{cure}"
        yield Rank.CANNOT_WORK, text
    reasons = dict.fromkeys(stopping.why.get(name, "") for name in unbound)
    for why in reasons:
        if why == stopping.cannot_work and why:
            continue
        names = tuple(name for name in unbound if stopping.why.get(name, "") == why)
        text = f"{listed(names)}: NO BOUND on the time until failsafe"
        yield Rank.NO_BOUND, f"{text}: {why}" if why else text


def _of_fault(summary: Summary, scenario: Scenario, fault: FaultFigures) -> Iterator[Hazard]:
    """One line for all that a fault did harm to, as bad as the worst of it."""
    if not is_reached(summary, fault) or has_no_effect(summary, scenario, fault):
        return
    harm = list(_harm(summary, scenario, fault))
    if harm:
        texts = "; ".join(text for _, text in harm)
        yield min(rank for rank, _ in harm), f"fault at {fault_name(fault)}: {texts}"


def _harm(summary: Summary, scenario: Scenario, fault: FaultFigures) -> Iterator[Hazard]:
    missed = fates(summary, scenario, fault).get(Fate.NEVER_CAME, ())
    if missed:
        yield Rank.NEVER_CAME, fate_text(summary, fault, Fate.NEVER_CAME, missed)
    if lacks_watchdog(scenario, fault):
        yield Rank.STILL_DRIVEN, "a hung receiver without a watchdog keeps its pulses going"
    for spot in blind_spots(summary, fault):
        yield Rank.NO_BOUND, f"{fault.unit}'s failsafe is blind to {spot}"
    alive = still_driven_outputs(summary, scenario, fault)
    if alive:
        yield Rank.STILL_DRIVEN, f"NOTHING EVER STOPS {listed(alive)}"
    never = never_fresh(summary, scenario, fault)
    if never:
        starts = in_starts(summary, fault.unrecovered_starts)
        yield Rank.NEVER_FRESH, f"NEVER FRESH AGAIN{starts}: {listed(never)}"


def _of_stream(summary: Summary, scenario: Scenario, name: str) -> Iterator[Hazard]:
    """A stream that cannot keep its outputs alive, or whose transmitter cannot keep up."""
    word = verdict(summary, scenario, name)
    figures = summary.figures.stream[name]
    if word == "silent":
        text = f"{name}: none of its {counted(figures.sampled, 'frame')} was ever read"
        yield Rank.STARVES, text
    elif word == "starves":
        yield Rank.STARVES, f"{name} STARVES: {'; '.join(_starving(summary, name))}"
    if figures.skipped > BUSY_SHARE * figures.sampled:
        yield Rank.STARVES, _busy(scenario, name, figures.skipped / figures.sampled)
    dead = tuple(
        output
        for output, it in summary.figures.output.items()
        if it.stream == name and it.update_rate_hz == 0
    )
    if dead and figures.read and name in scenario.failsafe:
        yield Rank.NEVER_ALIVE, _never_alive(scenario.failsafe[name], name, dead, figures.read)


def _starving(summary: Summary, name: str) -> Iterator[str]:
    figures = summary.figures.stream[name]
    if reads_less_than(STARVING_SHARE, summary, name):
        yield f"only {share(figures.delivery_ratio)} of its samples were read"
        if figures.fifo_dropped > figures.read:
            yield "most attempts found the receiver's FIFO full"
    yield f"up to {digits(figures.gap_ms.max)} ms without a value"
    if figures.failsafe is not None and figures.failsafe.nuisance_trips:
        yield nuisance_text(summary, figures.failsafe)


def _busy(scenario: Scenario, name: str, skipped: float) -> str:
    unit = scenario.transmitter[name]
    text = f"{name}: {share(skipped)} of samples skipped: the radio is still busy"
    if unit.period_ms is None:
        return text
    retries = unit.retry_limit if unit.acknowledge is True else 0
    plural = "retry" if retries == 1 else "retries"
    what = f"{retries} {plural}" if retries else "a frame"
    return f"{text}; {limit(unit.period_ms)} ms is too short for {what}"


def _never_alive(timer: Failsafe, stream: str, dead: tuple[str, ...], read: int) -> str:
    """Why outputs stay on failsafe though values are read."""
    needs, row = timer.resume_needs, timer.resume_frames
    waits = "a frame" if row == 1 else f"{row} frames in a row (resume_frames)"
    if needs is not None:
        waits += f" and {needs.field} within {needs.within:g} of its neutral (resume_needs)"
    verb = "NEVER COMES" if len(dead) == 1 else "NEVER COME"
    were = "was" if read == 1 else "were"
    return (
        f"{listed(dead)} {verb} ALIVE: {counted(read, 'frame')} of {stream} {were} read, "
        f"but its failsafe waits for {waits}; what else is said of them means little"
    )


def _is_about(finding: Finding, stopping: Stopping) -> bool:
    """Whether a finding tells why a failsafe cannot work, which its stream's line tells already."""
    return bool(stopping.cannot_work) and stopping.cannot_work in finding.what
