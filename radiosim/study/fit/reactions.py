"""From a last frame to failsafe: as logged, and as simulated with the transmitter off."""

from collections.abc import Sequence
from concurrent.futures import Executor
from functools import partial

import numpy as np
from msgspec.structs import replace

from radiosim.bench_log.estimates import mean
from radiosim.bench_log.lives import unit_log
from radiosim.bench_log.records import RECEIVER, Event, UnitLog, of_event
from radiosim.engine.simulate import Engine
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import Fault
from radiosim.study.bench.counted_steps import ordinary, up_s
from radiosim.study.fit.figure import Figure
from radiosim.study.fit.simulated import logs_of
from radiosim.study.run_points import run_points

_TRIES = 3
"""Times that the transmitter is switched off in one start."""
_MOST_STARTS = 60
"""Simulated: of what is drawn from them, more tell nothing new."""
_BETWEEN_S = 2.0
"""That all is well before it is, beside the boot."""


def reactions_ms(scenario: Scenario, log: UnitLog, name: str) -> list[float]:
    """From the last frame that fed a stream's timer to its failsafe, over all lives; ms."""
    number = tuple(scenario.transmitter).index(name)
    is_own = scenario.failsafe[name].fed_by == "own"
    found: list[float] = []
    for life in log.lives:
        on = of_event(life, Event.FAILSAFE, number)
        reads = of_event(life, Event.READ, number if is_own else None)["t_us"]
        at_us = on["t_us"][on["value"] == 1]
        places = np.searchsorted(reads, at_us, side="right") - 1
        late_us = at_us[places >= 0] - reads[places[places >= 0]]
        found += (late_us / 1000).tolist()
    return found


def reaction_figure(name: str, reactions: Sequence[float]) -> Figure:
    """Their mean, with an interval of two or more."""
    return Figure(
        key=f"reaction.{name}",
        of=name,
        what="last frame to failsafe, mean",
        unit="ms",
        resolution=0.01,
        value=float(np.mean(reactions)),
        estimate=mean(reactions) if len(reactions) > 1 else None,
    )


def simulated_reactions(
    scenario: Scenario,
    name: str,
    count: int,
    numbers: range,
    *,
    engine: Engine = "auto",
    workers: int | None = None,
    executor: Executor | None = None,
) -> list[float]:
    """Means of so many reactions, one for each of `numbers`; empty if none ever came.

    Each is of reactions drawn from all that were simulated: what they hang on, the instant of the
    last frame in its pass, has nothing in common from one to the next.
    """
    found = run_points(
        partial(_reactions, _switched_off(scenario, name), name, engine),
        numbers[:_MOST_STARTS],
        fold=tuple,
        is_ready=True,
        workers=workers,
        executor=executor,
    )
    pool = [one for each in found for one in each]
    if not pool:
        return []
    rng = np.random.default_rng((scenario.seed, numbers.start))
    drawn: list[float] = rng.choice(pool, (len(numbers), count)).mean(axis=1).tolist()
    return drawn


def _switched_off(scenario: Scenario, name: str) -> Scenario:
    """The scenario with all that feeds a stream's timer switched off some times."""
    timer = scenario.failsafe[name]
    units = (name,) if timer.fed_by == "own" else tuple(scenario.transmitter)
    off_s = timer.timeout_ms / 1000 + 1
    boots_s = max(scenario.transmitter[unit].boot_s for unit in units)
    first_s, every_s = up_s(scenario) + _BETWEEN_S, off_s + boots_s + _BETWEEN_S
    faults = tuple(
        Fault(at_s=first_s + k * every_s, kind="power_off", unit=unit, for_s=off_s)
        for k in range(_TRIES)
        for unit in units
    )
    return replace(scenario, fault=faults, requirement=(), duration_s=first_s + _TRIES * every_s)


def without_outputs(scenario: Scenario) -> Scenario:
    """The scenario without what takes time and no log of reads and failsafes shows, unless what
    outputs draw may brown the receiver out."""
    return replace(scenario, output={}) if scenario.receiver.supply is None else scenario


def _reactions(scenario: Scenario, name: str, engine: Engine, number: int) -> list[float]:
    from radiosim.vehicle.feedback import simulate  # noqa: PLC0415 - the engine loads slowly

    trace = simulate(scenario, start=ordinary(number), engine=engine)
    log = unit_log(logs_of(trace, units=(RECEIVER,))[RECEIVER], RECEIVER, "simulated")
    return reactions_ms(scenario, log, name)
