"""Every start of a scene, on all cores, measured as they come."""

import os
import signal
import sys
import threading
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from multiprocessing.context import BaseContext

from radiosim.engine.choice import Engine, choose
from radiosim.engine.simulate import simulate
from radiosim.measure import Summary, summary_of
from radiosim.measure.start import tally_start
from radiosim.measure.tally import StartTally
from radiosim.scenario import Scenario

OnProgress = Callable[[int, int], None]


def simulate_starts(
    scenario: Scenario,
    *,
    first: int = 0,
    count: int | None = None,
    engine: Engine = "auto",
    workers: int | None = None,
    on_progress: OnProgress | None = None,
    executor: Executor | None = None,
) -> Summary:
    """Summary of `count` starts (the scene's own number if None) from `first` on.

    Starts run in a pool of processes, or in `executor` if one is given; the result does not
    depend on which. `on_progress(done, total)` is called as starts finish. ValueError for a
    negative `first` or a `count` below one.
    """
    total = scenario.starts if count is None else count
    if first < 0 or total < 1:
        raise ValueError(f"first must be >= 0 and count >= 1, got {first} and {total}")
    numbers = range(first, first + total)
    if executor is not None:
        tallies = _gather(executor, scenario, numbers, engine, on_progress)
        return summary_of(scenario, tallies)
    wanted = min(workers or os.cpu_count() or 1, total)
    if wanted == 1 or (workers is None and _is_quick(scenario, total, engine)):
        tallies = []
        for done, number in enumerate(numbers, 1):
            tallies.append(tally_one(scenario, number, engine))
            if on_progress is not None:
                on_progress(done, total)
        return summary_of(scenario, tallies)
    pool = ProcessPoolExecutor(
        wanted, mp_context=_context(), initializer=_leave_interrupts_to_the_parent
    )
    try:
        tallies = _gather(pool, scenario, numbers, engine, on_progress)
    except BaseException:
        # A stopped run must not wait for starts that nobody will look at.
        # There is no public way to end the processes.
        for process in list((pool._processes or {}).values()):
            process.terminate()
        pool.shutdown(wait=True, cancel_futures=True)
        raise
    pool.shutdown()
    return summary_of(scenario, tallies)


QUICK_S = 3_000.0
"""Simulated seconds, summed over senders, that are done before a pool of processes has started."""


def _is_quick(scenario: Scenario, count: int, engine: Engine) -> bool:
    simulated_s = count * scenario.duration_s * len(scenario.transmitter)
    return simulated_s <= QUICK_S and choose(engine).engine == "fast"


def _context() -> BaseContext:
    """Forked workers have the compiled code at once; a fork is safe only without other threads."""
    can_fork = sys.platform == "linux" and threading.active_count() == 1
    return get_context("fork" if can_fork else "spawn")


def _leave_interrupts_to_the_parent() -> None:
    """Ctrl-C goes to the whole group; only the parent answers it, by ending its workers."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def tally_one(scenario: Scenario, start: int, engine: Engine) -> StartTally:
    """Simulate and measure one start."""
    return tally_start(simulate(scenario, start=start, engine=engine))


def _gather(
    executor: Executor,
    scenario: Scenario,
    numbers: range,
    engine: Engine,
    on_progress: OnProgress | None,
) -> list[StartTally]:
    futures = {executor.submit(tally_one, scenario, number, engine): number for number in numbers}
    finished: dict[int, StartTally] = {}
    for future in as_completed(futures):
        finished[futures[future]] = future.result()
        if on_progress is not None:
            on_progress(len(finished), len(numbers))
    return [finished[number] for number in numbers]
