"""All drills of a scene: how soon each output stops, against bound and reachable worst (F6)."""

import functools
import os
import statistics
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from msgspec import Struct

from radiosim.engine.choice import Engine
from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.rules.grid import scaled
from radiosim.measure.start import make_folds_ready
from radiosim.scenario import Scenario
from radiosim.study.drill.faults import Drill, drills_of
from radiosim.study.drill.tried import Attempt, milliseconds, tried, undisturbed_entries
from radiosim.study.starts import OnProgress
from radiosim.study.workers import pool_of
from radiosim.units import ns_from_ms
from radiosim.vehicle.stopping import (
    Bound,
    bound_of,
    clock_width_ppb,
    reachable_worst_ns,
    with_slowest_clock,
)

TRIES = 60
"""Of each drill: as many starts, each with its own offsets, clocks and refresh phases."""
_IN_BATCH = 10


class Spread(Struct, frozen=True, kw_only=True):
    """Times over the tries that had one; None: none had."""

    median: float | None
    p99: float | None
    worst: float | None
    n: int


class OutputDrill(Struct, frozen=True, kw_only=True):
    """What one output made of one drill."""

    fault: str
    kind: str
    unit: str
    stream: str
    output: str
    action: str
    bound_ms: float | None
    """Rule F6, for faults that silence its stream; None: none, or not this fault's."""
    reachable_ms: float | None
    stop_ms: Spread
    """From the fault to the failsafe value in effect."""
    standstill_ms: Spread
    """And to the motor's standstill."""
    recovered_ms: Spread
    """From the fault's end to a new value."""
    alive: int
    """Tries in which it was still live when it must not be."""
    tries: int
    """In which it was live as the fault began; in the others its failsafe was on already."""
    why: str
    """Why it has no bound, or stays alive; empty: it does not."""
    is_failed: bool


class StreamBound(Struct, frozen=True, kw_only=True):
    """Rule F6's sum for the slowest output of a stream."""

    output: str
    terms: dict[str, float]
    """Name and ms of each, in the order of the sum."""
    total_ms: float | None
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drilled:
    """All drills of a scene."""

    scene: str
    tries: int
    drills: tuple[OutputDrill, ...]
    bounds: Mapping[str, StreamBound]
    """By stream."""
    worst_stop_ms: Mapping[str, float | None]
    """By stream, over all drills that silence it; None: an output with a timer stays alive."""
    others: tuple[str, ...]
    """What streams did that a drill must not touch; empty: nothing."""


def drilled(
    scenario: Scenario,
    *,
    tries: int = TRIES,
    engine: Engine = "auto",
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> Drilled:
    """Try every drill in as many starts; the faults of the scene itself are left out."""
    drills = drills_of(scenario)
    jobs = [
        (number, range(k, min(k + _IN_BATCH, tries)))
        for number in range(len(drills))
        for k in range(0, tries, _IN_BATCH)
    ]
    run = functools.partial(_batch, scenario, drills, tries, engine)
    wanted = min(workers or os.cpu_count() or 1, len(jobs))
    if wanted == 1:
        found = _gathered(map(run, jobs), len(jobs), on_progress)
    else:
        make_folds_ready(scenario)
        with pool_of(wanted) as pool:
            found = _gathered(pool.map(run, jobs), len(jobs), on_progress)
    attempts: list[list[Attempt]] = [[] for _ in drills]
    for (number, _), some in zip(jobs, found, strict=True):
        attempts[number] += some
    plan = make_plan(with_slowest_clock(scenario), 0)
    rows = tuple(
        _output_drill(scenario, plan, drill, name, tried_here)
        for drill, tried_here in zip(drills, attempts, strict=True)
        for name in tried_here[0].stop_ns
    )
    calm = {start: undisturbed_entries(scenario, start, engine) for start in range(min(tries, 5))}
    return Drilled(
        scene=scenario.name,
        tries=tries,
        drills=rows,
        bounds={name: _stream_bound(scenario, plan, name) for name in scenario.transmitter},
        worst_stop_ms={name: _worst(rows, name) for name in scenario.transmitter},
        others=tuple(_others(scenario, drills, attempts, calm)),
    )


def _batch(
    scenario: Scenario,
    drills: Sequence[Drill],
    tries: int,
    engine: Engine,
    job: tuple[int, range],
) -> list[Attempt]:
    number, starts = job
    # Faults are spread over the longest cycle; a start's own phases are drawn beside them.
    return [tried(scenario, drills[number], k, (k + 0.5) / tries, engine) for k in starts]


def _gathered(
    found: Iterable[list[Attempt]], total: int, on_progress: Callable[[int, int], None] | None
) -> list[list[Attempt]]:
    gathered: list[list[Attempt]] = []
    if on_progress is not None:
        on_progress(0, total)
    for some in found:
        gathered.append(some)
        if on_progress is not None:
            on_progress(len(gathered), total)
    return gathered


def _output_drill(
    scenario: Scenario, plan: Plan, drill: Drill, name: str, attempts: Sequence[Attempt]
) -> OutputDrill:
    output = scenario.output[name]
    here = [attempt for attempt in attempts if name in attempt.live]
    stops = [milliseconds(attempt.stop_ns[name]) for attempt in here]
    recovered = [milliseconds(attempt.recovered_ns[name]) for attempt in attempts]
    is_silenced = output.stream in drill.silences
    bound = bound_of(scenario, plan, name)
    total_ns = bound.total_ns if has_bound(scenario, drill, output.stream) else None
    alive = sum(stop is None for stop in stops) if is_silenced and drill.must_stop else 0
    is_asked = output.stream in scenario.failsafe and output.on_failsafe != "hold"
    motor_ms = 0.0 if output.motor is None else 1000 * output.motor.stop_s
    return OutputDrill(
        fault=drill.name,
        kind=drill.kind,
        unit=", ".join(drill.units),
        stream=output.stream,
        output=name,
        action="hold" if isinstance(output.on_failsafe, str) else "preset",
        bound_ms=None if total_ns is None else total_ns / 1e6,
        reachable_ms=None if total_ns is None else reachable_ms(scenario, plan, name, bound),
        stop_ms=spread(stops),
        standstill_ms=spread([None if s is None else s + motor_ms for s in stops]),
        recovered_ms=spread(recovered),
        alive=alive,
        tries=len(here),
        why=_why(scenario, drill, name, bound) if alive else "",
        # To hold is a choice; to have no timer at all, or one that does not work, is none.
        is_failed=alive > 0 and (is_asked or output.stream not in scenario.failsafe),
    )


def has_bound(scenario: Scenario, drill: Drill, stream: str) -> bool:
    """Whether rule F6's bound is one for this fault of this stream: its frames stop at once."""
    return stream in drill.silences and drill.kind in ("power_off", "out_of_range", "jam")


def reachable_ms(scenario: Scenario, plan: Plan, name: str, bound: Bound) -> float:
    """The worst that can be reached with equal passes, ms (rule F6)."""
    failsafe = scenario.failsafe[scenario.output[name].stream]
    timeout_ns = scaled(ns_from_ms(failsafe.timeout_ms), clock_width_ppb(scenario))
    at_arrival = failsafe.fed_at == "arrival"
    return reachable_worst_ns(plan, bound, timeout_ns, fed_at_arrival=at_arrival) / 1e6


def _why(scenario: Scenario, drill: Drill, name: str, bound: Bound) -> str:
    """Why an output was still live."""
    failsafe = scenario.failsafe.get(scenario.output[name].stream)
    if drill.kind == "hang":
        return "no watchdog: pulses made by a timer go on for ever"
    if bound.why_none:
        return bound.why_none
    if drill.kind == "frozen" and failsafe is not None and not failsafe.watch_field:
        return "the timer is fed by old values (no watch_field)"
    if drill.kind == "frozen":
        return "its values come back before the timer runs out"
    return "the timer did not run out in time"


def spread(values: Sequence[float | None]) -> Spread:
    """Median, p99 and worst of the values that are there."""
    there = sorted(value for value in values if value is not None)
    if not there:
        return Spread(median=None, p99=None, worst=None, n=0)
    p99 = there[min(len(there) - 1, int(0.99 * len(there)))]
    return Spread(median=statistics.median(there), p99=p99, worst=there[-1], n=len(there))


def _stream_bound(scenario: Scenario, plan: Plan, stream: str) -> StreamBound:
    names = [name for name, output in scenario.output.items() if output.stream == stream]
    bounds = {name: bound_of(scenario, plan, name) for name in names}
    name = max(names, key=lambda it: bounds[it].total_ns or -1)
    bound = bounds[name]
    return StreamBound(
        output=name,
        terms={term.name: term.ns / 1e6 for term in bound.terms},
        total_ms=None if bound.total_ns is None else bound.total_ns / 1e6,
        why=bound.why_none,
    )


def _worst(rows: Sequence[OutputDrill], stream: str) -> float | None:
    """The slowest stop of a stream's outputs in drills that rule F6 has a bound for."""
    mine = [row for row in rows if row.stream == stream and row.kind in _SILENT and row.unit]
    acting = [row for row in mine if row.action != "hold" or row.alive == 0]
    # An output that any fault leaves alive has no worst.
    if not acting or any(row.is_failed for row in rows if row.stream == stream):
        return None
    return max((row.stop_ms.worst for row in acting if row.stop_ms.worst is not None), default=None)


_SILENT = ("power_off", "out_of_range", "jam")


def _others(
    scenario: Scenario,
    drills: Sequence[Drill],
    attempts: Sequence[Sequence[Attempt]],
    calm: Mapping[int, Mapping[str, int]],
) -> Iterable[str]:
    """Streams whose failsafe came on although the fault was another's, and does not without it."""
    for drill, here in zip(drills, attempts, strict=True):
        if not set(drill.units) <= set(scenario.transmitter):
            continue
        for stream in scenario.failsafe:
            if stream in drill.units:
                continue
            hit = sum(here[k].entries[stream] > entries[stream] for k, entries in calm.items())
            if hit:
                yield (
                    f"{drill.name}: {stream}'s failsafe came on in {hit} of {len(calm)} starts in "
                    "which it does not otherwise"
                )
