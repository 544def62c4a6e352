"""The trade-off of each stream's timeout, over the scenario's own starts without its faults."""

from collections.abc import Iterator, Sequence
from typing import Any

from msgspec.structs import replace

from radiosim.counted import counted
from radiosim.report.figures import trade_off
from radiosim.report.figures.trade_off import TradeOffData
from radiosim.report.live.pictures import picture
from radiosim.results.formats import fmt_sig3
from radiosim.scenario import Scenario
from radiosim.study.drill.drill import NUISANCE_PER_HOUR, REACTION_MS
from radiosim.study.drill.judged import asked_reaction_ms
from radiosim.study.drill.trade_off import (
    TIMEOUTS_MS,
    Trips,
    feasible_range_of,
    if_beats_were_seen,
    trade_off_of,
    trips_of,
)
from radiosim.study.live.looks import IsOutdated, watched

MOST_STARTS = 20
"""A page waits no longer; `radiosim failsafe` simulates for as long as rare trips ask for."""


def trade_offs(scenario: Scenario, is_outdated: IsOutdated) -> Iterator[dict[str, Any]]:
    """A picture of each stream that has a failsafe.

    None where a program of the builder's own decides. Raises Outdated.
    """
    if not scenario.failsafe or scenario.receiver.program is not None:
        return
    quiet = replace(scenario, fault=(), requirement=())
    timeouts_ms = tuple(
        sorted({*TIMEOUTS_MS, *(timed.timeout_ms for timed in scenario.failsafe.values())})
    )
    trips = [
        trips_of(quiet, start, "auto", timeouts_ms, lambda rows: watched(rows, is_outdated))
        for start in range(min(MOST_STARTS, scenario.starts))
    ]
    for number, data in enumerate(_found(scenario, quiet, trips, timeouts_ms)):
        made = picture(trade_off.figure_of(data, number))
        of = counted(len(trips), "start")
        hours = fmt_sig3(len(trips) * quiet.duration_s / 3600)
        made["text"] += f" From {of} without the scenario's faults, {hours} h together."
        yield {"kind": "figure", "figure": made}


def _found(
    scenario: Scenario, quiet: Scenario, trips: Sequence[Trips], timeouts_ms: Sequence[float]
) -> Iterator[TradeOffData]:
    hours = len(trips) * quiet.duration_s / 3600
    for name, curve in trade_off_of(quiet, trips, timeouts_ms).items():
        reaction_ms = asked_reaction_ms(scenario, name) or REACTION_MS
        feasible = if_beats_were_seen(
            feasible_range_of(scenario, name, curve, NUISANCE_PER_HOUR, reaction_ms, hours), trips
        )
        yield trade_off.data_of(
            name,
            scenario.failsafe[name].timeout_ms,
            curve,
            feasible,
            nuisance_per_hour=NUISANCE_PER_HOUR,
            reaction_ms=reaction_ms,
        )
