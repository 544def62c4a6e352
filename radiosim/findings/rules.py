"""When a figure is better, when it is fine, and when a stream is worse off."""

from collections.abc import Iterator, Sequence

import msgspec

from radiosim.findings.case import Better
from radiosim.findings.costs import NOISE, NOISE_ELSE
from radiosim.measure.requirements import holds
from radiosim.measure.summary import Summary
from radiosim.scenario import Scenario

PERIODS_WITHOUT_FAILSAFE = 10
"""Sampling periods that stand for the timeout of a stream without a failsafe."""
FINE_READ = 0.9
FINE_LOST = 0.01
FINE_PERIODS = 2
GREW = 1.25
FELL = 0.02
LESS_DRIVEN = 0.1

RULES = (
    "A figure that a requirement asks for is fine if the requirement holds. Without one: a longest "
    "gap up to half the failsafe timeout, or half of "
    f"{PERIODS_WITHOUT_FAILSAFE} sampling periods without a timer; {100 * FINE_READ:g} % of the "
    f"samples read; a latency of {FINE_PERIODS} sampling periods, p99; {100 * FINE_LOST:g} % of "
    "the attempts lost, or their retries used up; no nuisance trip at all.",
    "What is fine is no finding, nor is what an earlier finding's cure takes away, but for what "
    "shows by the same figure once that finding's cause is away; what the rules alone show stays "
    "one.",
    "No cure may make a stream worse off: its longest gap longer by more than "
    f"{100 * GREW - 100:g} % and by more than {FINE_PERIODS} sampling periods; its share of "
    f"samples read less by more than {100 * FELL:g} %; more nuisance trips by more than "
    f"{100 * GREW - 100:g} % and by more than one; or new values on an output for fewer of its "
    f"samples, by more than {100 * LESS_DRIVEN:g} %, faults of the scenario apart. What is fine "
    "all the same is left out.",
    "No cure may break a requirement that held.",
    "Of the figures in the tables, in the worst start, what cures make worse has a row beside "
    f"them: by more than {100 * NOISE['max']:g} % of a largest, {100 * NOISE['p99']:g} % of a p99, "
    f"{100 * NOISE_ELSE:g} % of any other. It is fine all the same up to half the failsafe timeout "
    "for a gap or an output's latency, all of it for an output's age, "
    f"{FINE_PERIODS} sampling periods for a stream's latency, {FINE_PERIODS} from one value to the "
    "next on the average. Beyond that it is said, and no cure may do it to a stream that gains "
    "nothing: no shorter longest gap, no larger share read, no fewer nuisance trips.",
    "What a failsafe cannot see is a note, and no finding, where no fault of the scenario shows "
    "it.",
)


def is_better(before: float | None, after: float | None, better: Better, share: float) -> bool:
    """Whether a figure came down to a share of what was wrong with it; None: it never came."""
    if before is None or after is None:
        return before is None and after is not None
    if better == "more":
        return after > before and 1 - after <= share * (1 - before)
    return after < before and share > 0 and after <= share * before


def sampling_ms(scenario: Scenario, summary: Summary, stream: str) -> float:
    """From one sample of a stream to the next, ms: on a timer its period, else as it was seen.

    Seen is the shorter of an average from its boot on, which faults make longer, and of the median
    gap at the receiver, which losses do.
    """
    unit, figures = scenario.transmitter[stream], summary.figures.stream[stream]
    if unit.pacing == "timer" and unit.period_ms is not None:
        return unit.period_ms
    up_ms = 1000 * max(0.0, summary.duration_s - unit.start_s - unit.boot_s)
    average_ms = summary.starts * up_ms / max(1, figures.sampled)
    return min(average_ms, figures.gap_ms.median or average_ms)


def limit_of_ms(scenario: Scenario, summary: Summary, stream: str) -> float:
    """The gap that is too long for a stream: its failsafe timeout, or some of its periods."""
    reaction = summary.reaction.get(stream)
    if reaction is not None and reaction.timeout_ms is not None:
        return reaction.timeout_ms
    return PERIODS_WITHOUT_FAILSAFE * sampling_ms(scenario, summary, stream)


def is_fine(scenario: Scenario, summary: Summary, figure: str, value: float | None) -> bool:
    """Whether nothing is wrong with a figure of one start, by the rules above."""
    if value is None:
        return False
    asked = [one for one in scenario.requirement if one.figure == figure]
    if asked:
        return all(holds(value, requirement) for requirement in asked)
    of, _, rest = figure.partition(".")
    stream, _, leaf = rest.partition(".")
    if of != "stream" or leaf == "duty_cycle":
        return False
    if leaf == "delivery_ratio":
        return value >= FINE_READ
    return value <= _most_that_is_fine(scenario, summary, stream, leaf)


def _most_that_is_fine(scenario: Scenario, summary: Summary, stream: str, leaf: str) -> float:
    if leaf == "gap_ms.max":
        return limit_of_ms(scenario, summary, stream) / 2
    if leaf == "latency_ms.p99":
        return FINE_PERIODS * sampling_ms(scenario, summary, stream)
    if leaf == "failsafe.nuisance_trips":
        return 0.0
    return FINE_LOST * summary.figures.stream[stream].attempts / summary.starts


class _Standing(msgspec.Struct, frozen=True, kw_only=True):
    """How a stream fares in some starts."""

    gap_ms: float
    read: float
    trips: int | None
    sampling_ms: float


def _standing(scenario: Scenario, summaries: Sequence[Summary], stream: str) -> _Standing:
    figures = [summary.figures.stream[stream] for summary in summaries]
    trips = [f.failsafe.nuisance_trips for f in figures if f.failsafe is not None]
    return _Standing(
        gap_ms=max(f.gap_ms.max for f in figures),
        read=sum(f.read for f in figures) / max(1, sum(f.sampled for f in figures)),
        trips=sum(trips) if trips else None,
        sampling_ms=max(sampling_ms(scenario, summary, stream) for summary in summaries),
    )


def worse_off(
    scenario: Scenario, before: Sequence[Summary], after: Sequence[Summary]
) -> Iterator[str]:
    """Paths of what is worse for a stream in some starts than it was in the same ones."""
    for stream in scenario.transmitter:
        was, now = (_standing(scenario, summaries, stream) for summaries in (before, after))
        longest_ms = max(GREW * was.gap_ms, was.gap_ms + FINE_PERIODS * now.sampling_ms)
        path = f"stream.{stream}"
        if now.gap_ms > longest_ms and not _fine(scenario, after, f"{path}.gap_ms.max", now.gap_ms):
            yield f"{path}.gap_ms.max"
        if now.read < was.read - FELL and now.read < FINE_READ:
            yield f"{path}.delivery_ratio"
        if was.trips is not None and (now.trips or 0) > max(GREW * was.trips, was.trips + 1):
            yield f"{path}.failsafe.nuisance_trips"
    yield from _less_driven(scenario, before, after)


def _less_driven(
    scenario: Scenario, before: Sequence[Summary], after: Sequence[Summary]
) -> Iterator[str]:
    for name, output in scenario.output.items():
        if all(name in summary.figures.output for summary in after):
            was, now = (_driven(summaries, name, output.stream) for summaries in (before, after))
            # While a fault lasts, and until it is over for the output, failsafe is no harm.
            if now < was - LESS_DRIVEN - max(_faulted(one, output.stream) for one in after):
                yield f"output.{name}.update_rate_hz"


def _faulted(summary: Summary, stream: str) -> float:
    """Share of the time in which the scenario's own faults keep a stream's outputs from being
    driven."""
    faulted_s = 0.0
    for fault in summary.figures.faults:
        if fault.unit in (stream, "receiver", "air"):
            left_s = max(0.0, summary.duration_s - fault.at_s)
            away_ms = (fault.over_ms or 0.0) + (fault.recovered_ms or 0.0)
            faulted_s += left_s if fault.over_ms is None else min(away_ms / 1000, left_s)
    return faulted_s / summary.duration_s


def _driven(summaries: Sequence[Summary], output: str, stream: str) -> float:
    """New values of an output for each sample of its stream."""
    updates = 0.0
    for summary in summaries:
        # Both rates are over the same span, so that it cancels.
        of = summary.figures.stream[stream]
        if of.update_rate_hz:
            fresh_hz = summary.figures.output[output].update_rate_hz
            updates += of.read * fresh_hz / of.update_rate_hz
    return updates / max(1, sum(s.figures.stream[stream].sampled for s in summaries))


def _fine(scenario: Scenario, summaries: Sequence[Summary], figure: str, value: float) -> bool:
    return is_fine(scenario, summaries[0], figure, value)


def broken(before: Summary, after: Summary) -> Iterator[str]:
    """Figures of requirements that held and do not any more."""
    for was, now in zip(before.requirements, after.requirements, strict=True):
        if was.ok is True and now.ok is False:
            yield was.figure
