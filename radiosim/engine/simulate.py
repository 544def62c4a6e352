"""One start of a scene, simulated: scene in, trace out."""

from typing import Literal

import msgspec

from radiosim.engine.plan import make_plan
from radiosim.scenario import Scenario
from radiosim.trace import Trace
from radiosim.version import VERSION

Engine = Literal["reference"]


def simulate(
    scenario: Scenario,
    *,
    seed: int | None = None,
    start: int = 0,
    engine: Engine = "reference",
) -> Trace:
    """The trace of one start; `seed` replaces the scene's own.

    The same scene, seed, start and version give the same trace on every machine (rule T2).
    ValueError for a negative start or an unknown engine.
    """
    if start < 0:
        raise ValueError(f"start must be >= 0, got {start}")
    if engine != "reference":
        raise ValueError(f"engine must be 'reference', got {engine!r}")
    if seed is not None:
        scenario = msgspec.structs.replace(scenario, seed=seed)
    from radiosim.engine.reference import run  # noqa: PLC0415 - simpy loads only to simulate

    plan = make_plan(scenario, start)
    return Trace(
        scenario=scenario,
        seed=scenario.seed,
        start=start,
        duration_ns=plan.until_ns,
        engine=engine,
        version=VERSION,
        **run(plan),
    )
