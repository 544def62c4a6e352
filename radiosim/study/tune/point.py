"""One point of a tuning: a scenario with some settings, judged over its starts."""

import math
from collections.abc import Mapping, Sequence

import msgspec
from msgspec.structs import replace

from radiosim.engine.simulate import Engine
from radiosim.errors import ScenarioError
from radiosim.measure.figures import figures_at, figures_of, rates_at
from radiosim.measure.requirements import judge, worst_of
from radiosim.measure.summary import RequirementFigures, StreamFigures
from radiosim.measure.tally import Pool, Range, StartTally, StreamTally, joined, pool_of
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.scenario.complete import USUAL_GAP_MS, USUAL_LATENCY_MS
from radiosim.scenario.structs.failsafe_and_fault import Requirement
from radiosim.study.journal import Row
from radiosim.study.starts import Narrow, tallies_of, until_narrow
from radiosim.study.tune.guard import IN_WORST, stream_of
from radiosim.study.tune.period_pairs import Pair, clash_share_of, pairs_of
from radiosim.study.tune.tune_results import PointFigures, StreamAtPoint, Tried
from radiosim.study.tune.varied import Values

BEAT, COLLISION, DEAF, FULL = "clocks beat", "collision", "receiver deaf", "FIFO full"
BUSY, RANGE, CHANCE, SLOW = "transmitter busy", "out of range", "chance", "too slow"
UNNOTICED, OFF, FAULT = "fault not noticed", "receiver off or booting", "scripted fault"
CAUSES = (BEAT, COLLISION, DEAF, FULL, BUSY, RANGE, CHANCE, SLOW, UNNOTICED, OFF, FAULT)
SELDOM = 0.01
"""Less than this share of attempts lost, or of samples not sent: the setting itself is too slow."""


def cause_of(figure: str, streams: Mapping[str, StreamTally], outputs: Mapping[str, str]) -> str:
    """What took most of the frames of the stream that a missed figure is about.

    `streams`: of one start; `outputs`: stream of each output. Of a figure that is about no stream:
    of all of them.
    """
    is_of_fault = figure.endswith(".trips_on_fault")
    if is_of_fault and not _trips_for_nothing(streams.get(figure.split(".")[1])):
        return UNNOTICED
    kind, name, *_ = figure.split(".")
    stream = name if kind == "stream" else outputs.get(name, "") if kind == "output" else ""
    mine = [streams[stream]] if stream in streams else list(streams.values())
    attempts = sum(tally.attempts for tally in mine)
    sampled = sum(tally.sampled for tally in mine)
    lost = {
        COLLISION: sum(tally.lost_collision for tally in mine),
        DEAF: sum(tally.lost_deaf for tally in mine),
        FULL: sum(tally.fifo_dropped for tally in mine),
        RANGE: sum(tally.lost_range for tally in mine),
        CHANCE: sum(tally.lost_chance for tally in mine),
    }
    if figure.endswith((".delivery_ratio", ".update_rate_hz")):
        # A boot takes a share of all frames; of a gap or a latency later on it says nothing.
        lost[OFF] = sum(tally.lost_off for tally in mine)
    held_back = sum(tally.skipped + tally.replaced + tally.queue_full for tally in mine)
    if held_back > sampled * SELDOM and held_back > max(lost.values()):
        return BUSY
    most = max(lost, key=lambda cause: lost[cause])
    if lost[most] <= attempts * SELDOM:
        return UNNOTICED if is_of_fault else SLOW
    return most


def _trips_for_nothing(stream: StreamTally | None) -> bool:
    """Whether a timer also trips without a fault: it may have been on when the fault struck."""
    timer = None if stream is None else stream.failsafe
    return timer is not None and timer.nuisance_trips > 0


MISSED_ALTOGETHER = -1.0
"""Beyond the limit by as much as the limit itself, or not measured at all: no margin is lower."""


def margin_of(requirement: RequirementFigures) -> float:
    """How far a figure is on the right side of its limit, as a share of it; below 0: missed.

    Of a share that must be high, what is missing to 1 is compared: 0.995 of at least 0.99 is
    half way. A limit of 0 is held in full or missed. A fault that must be noticed is, or is not:
    there is no more to gain.
    """
    if requirement.measured is None:
        return MISSED_ALTOGETHER
    found = []
    if requirement.at_most is not None:
        found.append(_below(requirement.measured, requirement.at_most))
    if requirement.at_least is not None:
        is_share = requirement.figure.endswith(".delivery_ratio") and 0 < requirement.at_least < 1
        missing, allowed = 1 - requirement.measured, 1 - requirement.at_least
        found.append(
            _below(missing, allowed)
            if is_share
            else _above(requirement.measured, requirement.at_least)
        )
    margin = max(MISSED_ALTOGETHER, min(found))
    return 1.0 if requirement.figure.endswith(".trips_on_fault") and margin >= 0 else margin


def _below(measured: float, limit: float) -> float:
    if limit == 0:
        return 1.0 if measured <= 0 else MISSED_ALTOGETHER
    return (limit - measured) / abs(limit)


def _above(measured: float, limit: float) -> float:
    if limit == 0:
        return 1.0 if measured >= 0 else MISSED_ALTOGETHER
    return (measured - limit) / abs(limit)


ELSEWHERE = "worst."
"""Worst reaction times, which drills judge."""


def reachable(scenario: Scenario) -> Scenario:
    """The scenario without requirements that only a fault can fulfil, if its starts end before
    one."""
    if all(fault.at_s < scenario.duration_s for fault in scenario.fault):
        return scenario
    kept = [entry for entry in scenario.requirement if not entry.figure.endswith(".trips_on_fault")]
    return replace(scenario, requirement=tuple(kept))


def with_requirements(scenario: Scenario) -> tuple[Scenario, tuple[str, ...]]:
    """The scenario with requirements that can be judged here, and those taken if it has none.

    Those taken are about the link: no gap can be held while a scripted fault lasts, so that they
    are judged without the scenario's own faults.
    """
    asked = tuple(
        requirement
        for requirement in scenario.requirement
        if not requirement.figure.startswith(ELSEWHERE)
    )
    if asked:
        return replace(scenario, requirement=asked), ()
    wanted = []
    for name in scenario.transmitter:
        timer = scenario.failsafe.get(name)
        longest_gap_ms = USUAL_GAP_MS if timer is None else timer.timeout_ms
        wanted.append(Requirement(figure=f"stream.{name}.gap_ms.max", at_most=longest_gap_ms))
    wanted += [
        Requirement(figure=f"output.{name}.age_ms.p99", at_most=USUAL_LATENCY_MS)
        for name, output in scenario.output.items()
        if output.kind == "servo"
    ]
    said = tuple(f"{entry.figure} at most {entry.at_most:g}" for entry in wanted)
    return replace(scenario, requirement=tuple(wanted), fault=()), said


def lean(scenario: Scenario, *figures: str) -> Scenario:
    """The scenario without the outputs and servos that none of its requirements or figures is
    about.

    They do not act back on the link: all else stays the same, and takes less time.
    """
    paths = [*figures, *(requirement.figure for requirement in scenario.requirement)]
    asked = [path.split(".", 2)[1:] for path in paths if path.startswith("output.")]
    named, turned = {name for name, _ in asked}, {name for name, entry in asked if "servo" in entry}
    kept = {
        name: output if name in turned else replace(output, servo=None)
        for name, output in scenario.output.items()
        if name in named
    }
    return replace(scenario, output=kept)


OF_STREAM = (*IN_WORST, "delivery_ratio")
"""Figures of every stream that are told of the worst start."""


def judged(
    scenario: Scenario, engine: Engine, narrow: Narrow | None, lines: tuple[str, ...]
) -> Row:
    """The row of one point: its `PointFigures` as JSON holds them, or why it was refused.

    As many starts as the scenario has; with `narrow`, as many of them as that takes.
    """
    try:
        tried = lean(changed(scenario, lines), *([] if narrow is None else [narrow.figure]))
    except ScenarioError as error:
        return {"refused": str(error)}
    row: Row = msgspec.to_builtins(figures_at_point(tried, engine, narrow))
    return row


def tried_of(values: Values, row: Row, *, is_own: bool) -> Tried:
    """The point with some values, from its row."""
    refused = row.get("refused", "")
    return Tried(
        values=values,
        is_own=is_own,
        refused=refused,
        figures=None if refused else msgspec.convert(row, PointFigures),
    )


def figures_at_point(tried: Scenario, engine: Engine, narrow: Narrow | None) -> PointFigures:
    """What a scenario is judged by in a tuning."""
    if narrow is None:
        return _measured(tried, engine, tallies_of(tried, range(tried.starts), engine))
    found = until_narrow(tried, narrow, tried.starts, engine=engine)
    return replace(
        _measured(tried, engine, found.tallies),
        interval_ci95=found.interval,
        is_narrow=found.is_narrow,
    )


def _measured(tried: Scenario, engine: Engine, tallies: Sequence[StartTally]) -> PointFigures:
    told = {f"stream.{name}.{figure}" for name in tried.transmitter for figure in OF_STREAM}
    told |= {requirement.figure for requirement in tried.requirement}
    # Not as a set happens to have them: results must be the same bytes in each process.
    order = sorted(told)
    starts = Range(first=0, count=len(tallies))
    pool = joined(
        [pool_of(tally, starts.weight(tally), figures_at(tried, tally, order)) for tally in tallies]
    )
    figures = figures_of(tried, pool)
    rates = rates_at(tried, pool, [asked.figure for asked in tried.requirement])
    requirements = judge(tried, pool.extremes, len(tallies), math.inf, rates)
    margins = [margin_of(requirement) for requirement in requirements]
    margin = min(margins)
    nearest = requirements[margins.index(margin)]
    pairs = pairs_of(tried)
    worst = {path: entry.value for path, entry in worst_of(pool.extremes).items()}
    streams = figures.stream.values()
    of_stream: dict[str, list[float]] = {}
    for requirement, its_margin in zip(requirements, margins, strict=True):
        of_stream.setdefault(stream_of(requirement.figure, tried), []).append(its_margin)
    return PointFigures(
        starts=len(tallies),
        ok=margin >= 0,
        margin=margin,
        missed=sum(entry < 0 for entry in margins),
        nearest=nearest.figure,
        cause="" if margin >= 0 else _cause(tried, engine, nearest, pool, pairs),
        measured={requirement.figure: requirement.measured for requirement in requirements},
        worst=worst,
        duty_cycle=math.fsum(stream.duty_cycle for stream in streams),
        charge_mah_per_hour=_charge(list(streams)),
        age_mean_ms=_oldest(tried, worst, "age_ms.mean"),
        age_p99_ms=_oldest(tried, worst, "age_ms.p99"),
        stream={
            name: _stream(
                of,
                _clash_share(pool, name),
                clash_share_of(pairs, name),
                min(of_stream.get(name, ()), default=None),
            )
            for name, of in figures.stream.items()
        },
        pairs=pairs,
    )


def _charge(streams: Sequence[StreamFigures]) -> float | None:
    """Charge of all transmitters; None if one is not known."""
    charges = [stream.charge_mah_per_hour for stream in streams]
    known = [charge for charge in charges if charge is not None]
    return math.fsum(known) if len(known) == len(charges) else None


def _oldest(tried: Scenario, worst: Mapping[str, float], figure: str) -> float | None:
    """A figure of age, of the stream where it is highest; None if one was never read."""
    found = [worst.get(f"stream.{name}.{figure}") for name in tried.transmitter]
    there = [value for value in found if value is not None]
    return max(there) if len(there) == len(found) else None


def _clash_share(pool: Pool, stream: str) -> float | None:
    """Share of attempts that met another's, or found the receiver deaf; starts weighted."""
    rows = [row.streams[stream] for row in pool.rows]
    attempts = math.fsum(w * row.attempts for w, row in zip(pool.weights, rows, strict=True))
    clashes = math.fsum(
        w * (row.lost_collision + row.lost_deaf) for w, row in zip(pool.weights, rows, strict=True)
    )
    return clashes / attempts if attempts else None


def _stream(
    figures: StreamFigures,
    clash_share: float | None,
    predicted_clash_share: float,
    margin: float | None,
) -> StreamAtPoint:
    timer = figures.failsafe
    return StreamAtPoint(
        update_rate_hz=figures.update_rate_hz,
        delivery_ratio=figures.delivery_ratio,
        longest_gap_ms=figures.gap_ms.max,
        age_mean_ms=figures.age_ms.mean,
        age_median_ms=figures.age_ms.median,
        age_p99_ms=figures.age_ms.p99,
        nuisance_per_hour=None if timer is None else timer.nuisance_per_hour,
        margin=margin,
        clash_share=clash_share,
        predicted_clash_share=predicted_clash_share,
    )


def _cause(
    tried: Scenario,
    engine: Engine,
    missed: RequirementFigures,
    pool: Pool,
    pairs: Sequence[Pair],
) -> str:
    """Cause of a missed requirement, in the start that misses it most.

    Where that start holds it once the scenario's own faults are left out, they are the cause; else
    what takes frames without them.
    """
    extreme = pool.extremes.get(missed.figure)
    is_floor = missed.at_least is not None
    start = 0 if extreme is None else extreme.low_start if is_floor else extreme.high_start
    outputs = {name: output.stream for name, output in tried.output.items()}
    streams = pool.rows[start].streams
    if tried.fault and not missed.figure.endswith(".trips_on_fault"):
        (calm,) = tallies_of(replace(tried, fault=()), range(start, start + 1), engine)
        alone = figures_at(tried, calm, [missed.figure]).get(missed.figure)
        if margin_of(replace(missed, measured=alone)) >= 0:
            return FAULT
        streams = calm.streams
    cause = cause_of(missed.figure, streams, outputs)
    do_beat = any(pair.is_beating and cause in _losses(pair) for pair in pairs)
    return BEAT if do_beat else cause


def _losses(pair: Pair) -> tuple[str, ...]:
    """What frames of a pair that beats are counted as."""
    return (FULL,) if pair.second.startswith("receiver.work") else (COLLISION, DEAF)
