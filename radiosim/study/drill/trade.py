"""A timeout's trade: nuisance trips against stopping time, over timeouts, on the same frames."""

import dataclasses
import functools
import math
import os
from collections.abc import Sequence

import msgspec
from msgspec import Struct

from radiosim.engine.choice import Engine
from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import flow_of, simulate
from radiosim.measure.intervals import rate_over_starts
from radiosim.measure.start import tally_flow
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe import Failsafe
from radiosim.study.workers import pool_of
from radiosim.vehicle.stopping import bound_of, with_slowest_clock

TIMEOUTS_MS = (50, 75, 100, 150, 200, 250, 300, 400, 500, 700, 1000, 1400, 2000)
NONE_SEEN = 3.689
"""Upper limit of a mean of which nothing was seen, 95 % (Garwood 1936)."""
MOST_HOURS = 6.0
"""That trips are counted in: what is rarer needs `--rare`."""


class Trade(Struct, frozen=True, kw_only=True):
    """One timeout of one stream."""

    timeout_ms: float
    nuisance_per_hour: float
    nuisance_per_hour_ci95: tuple[float, float] | None
    worst_stop_ms: float | None
    """Rule F6's bound of the slowest output, its motor's way to a stop included; None: none."""


class Room(Struct, frozen=True, kw_only=True):
    """Timeouts that trip seldom enough and stop soon enough; None: there are none such."""

    shortest_ms: float | None
    longest_ms: float | None

    @property
    def is_there(self) -> bool:
        """Whether any timeout does both."""
        if self.shortest_ms is None or self.longest_ms is None:
            return False
        return self.shortest_ms <= self.longest_ms


def trade(
    scenario: Scenario,
    nuisance_per_hour: float,
    *,
    engine: Engine = "auto",
    workers: int | None = None,
) -> dict[str, tuple[Trade, ...]]:
    """Every timeout for every stream that has a timer; the scene's faults are left out.

    A timer does not act back on the link, so each start is simulated once for all timeouts; so
    many starts that none seen shows a rate below `nuisance_per_hour`, six hours at most.
    """
    hours_asked = min(MOST_HOURS, NONE_SEEN / max(nuisance_per_hour, NONE_SEEN / MOST_HOURS))
    duration_s = min(scenario.duration_s, 3600 * hours_asked)
    starts = math.ceil(3600 * hours_asked / duration_s)
    # Outputs have no part in it.
    calm = msgspec.structs.replace(
        scenario, fault=(), requirement=(), output={}, duration_s=duration_s
    )
    run = functools.partial(_trips, calm, engine)
    wanted = min(workers or os.cpu_count() or 1, starts)
    if wanted == 1:
        trips = [run(start) for start in range(starts)]
    else:
        with pool_of(wanted) as pool:
            trips = list(pool.map(run, range(starts)))
    hours = [duration_s / 3600] * starts
    return {
        stream: tuple(
            _row(scenario, stream, timeout_ms, [t[number][stream] for t in trips], hours)
            for number, timeout_ms in enumerate(TIMEOUTS_MS)
        )
        for stream in scenario.failsafe
    }


def _trips(scenario: Scenario, engine: Engine, start: int) -> list[dict[str, int]]:
    """Nuisance trips of one start, by timeout and stream."""
    trace = simulate(scenario, start=start, engine=engine)
    found = []
    for timeout_ms in TIMEOUTS_MS:
        other = msgspec.structs.replace(trace.scenario, failsafe=_timers(scenario, timeout_ms))
        tally = tally_flow(flow_of(dataclasses.replace(trace, scenario=other)))
        found.append(
            {
                name: stream.failsafe.nuisance_trips
                for name, stream in tally.streams.items()
                if stream.failsafe is not None
            }
        )
    return found


def _timers(scenario: Scenario, timeout_ms: float) -> dict[str, Failsafe]:
    return {
        name: msgspec.structs.replace(timer, timeout_ms=timeout_ms)
        for name, timer in scenario.failsafe.items()
    }


def _row(
    scenario: Scenario, stream: str, timeout_ms: float, trips: Sequence[int], hours: list[float]
) -> Trade:
    return Trade(
        timeout_ms=timeout_ms,
        nuisance_per_hour=sum(trips) / sum(hours),
        nuisance_per_hour_ci95=rate_over_starts(trips, hours, [1.0] * len(trips)),
        worst_stop_ms=worst_stop_ms(scenario, stream, timeout_ms),
    )


def worst_stop_ms(scenario: Scenario, stream: str, timeout_ms: float) -> float | None:
    """Rule F6's bound of the slowest acting output with its motor's stop; None: one has none."""
    other = msgspec.structs.replace(scenario, failsafe=_timers(scenario, timeout_ms))
    plan = make_plan(with_slowest_clock(other), 0)
    slowest = None
    for name, output in other.output.items():
        if output.stream != stream or output.on_failsafe == "hold":
            continue
        total_ns = bound_of(other, plan, name).total_ns
        if total_ns is None:
            return None
        motor_ms = 0.0 if output.motor is None else 1000 * output.motor.stop_s
        slowest = max(slowest or 0.0, total_ns / 1e6 + motor_ms)
    return slowest


def is_calm(row: Trade, nuisance_per_hour: float) -> bool:
    """Whether a timeout trips seldom enough; none seen counts only if that says something."""
    highest = row.nuisance_per_hour
    if highest == 0 and row.nuisance_per_hour_ci95 is not None:
        highest = row.nuisance_per_hour_ci95[1]
    return highest <= nuisance_per_hour * (1 + 1e-9)


def room_of(rows: Sequence[Trade], nuisance_per_hour: float, stop_ms: float) -> Room:
    """The shortest timeout that trips seldom enough, the longest that stops soon enough."""
    calm = [row.timeout_ms for row in rows if is_calm(row, nuisance_per_hour)]
    soon = [
        row.timeout_ms
        for row in rows
        if row.worst_stop_ms is not None and row.worst_stop_ms <= stop_ms
    ]
    return Room(shortest_ms=min(calm, default=None), longest_ms=max(soon, default=None))
