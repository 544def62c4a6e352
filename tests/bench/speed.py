"""Speed as ratios of one run: `python -m tests.bench.speed`.

Not a test: nothing here passes or fails. Both sides of a ratio are measured in turn, several
times, and the medians are compared, so that a machine whose speed drifts does not mislead.
"""

import statistics
import time
from collections.abc import Callable, Generator
from pathlib import Path
from typing import Any

import msgspec
import simpy

from radiosim.engine.plan import make_plan
from radiosim.engine.reference.world import World
from radiosim.scenario import load

SCENES = Path(__file__).parents[2] / "scenarios"
SIMULATED_S = 60.0
BARE_TIMEOUTS = 100_000
ROUNDS = 7


def seconds_of(work: Callable[[], object]) -> float:
    """Processor time of one call."""
    began = time.process_time()
    work()
    return time.process_time() - began


def bare_timeouts() -> None:
    """The event queue with nothing on it but one process that sleeps."""
    env = simpy.Environment()

    def sleeper() -> Generator[simpy.Event, Any, None]:
        while True:
            yield env.timeout(1)

    env.process(sleeper())
    env.run(until=BARE_TIMEOUTS)


def main() -> None:
    """Print the figures of `culvert-crawler`, one start, reference engine."""
    scene = load(SCENES / "culvert-crawler.toml")
    scene = msgspec.structs.replace(scene, duration_s=SIMULATED_S)
    plan = make_plan(scene, 0)

    events = 0

    def simulate() -> None:
        nonlocal events
        world = World(plan, False)
        world.env.run(until=plan.until_ns)
        # The next identity that the queue would give out: how many events were put on it.
        events = next(world.env._eid)
        world.close()

    simulate()
    rounds = [(seconds_of(simulate), seconds_of(bare_timeouts)) for _ in range(ROUNDS)]
    engine_s = statistics.median(engine for engine, _ in rounds)
    ratios = [(events / engine) / (BARE_TIMEOUTS / bare) for engine, bare in rounds]
    print(f"reference engine: {SIMULATED_S / engine_s:.0f} simulated seconds a second")
    print(f"events a second over bare timeouts a second: {statistics.median(ratios):.2f}")
    print(f"events a simulated second: {events / SIMULATED_S:.0f}")


if __name__ == "__main__":
    main()
