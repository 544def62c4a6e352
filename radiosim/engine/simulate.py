"""One start of a scene, simulated: scene in, trace out."""

import msgspec

from radiosim.engine.choice import Engine, choose
from radiosim.engine.plan import Plan, make_plan
from radiosim.scenario import Scenario
from radiosim.trace import Table, Trace
from radiosim.version import VERSION


def simulate(
    scenario: Scenario,
    *,
    seed: int | None = None,
    start: int = 0,
    engine: Engine = "auto",
) -> Trace:
    """The trace of one start; `seed` replaces the scene's own.

    The same scene, seed, start and version give the same trace on every machine and engine
    (rule T2); "auto" is the compiled engine, or the reference where numba cannot be had.
    TypeError for what is not a scenario or a whole number, ValueError for a negative seed or
    start or an unknown engine.
    """
    if not isinstance(scenario, Scenario):
        raise TypeError(f"scenario must be a radiosim.Scenario, got {type(scenario).__name__}")
    for name, number in (("seed", seed), ("start", start)):
        if number is not None and (not isinstance(number, int) or isinstance(number, bool)):
            raise TypeError(f"{name} must be a whole number, got {number!r}")
        if number is not None and number < 0:
            raise ValueError(f"{name} must be >= 0, got {number}")
    if seed is not None:
        scenario = msgspec.structs.replace(scenario, seed=seed)
    plan = make_plan(scenario, start)
    name, tables = _run(plan, engine)
    return Trace(
        scenario=scenario,
        seed=scenario.seed,
        start=start,
        duration_ns=plan.until_ns,
        engine=name,
        version=VERSION,
        **tables,
    )


def _run(plan: Plan, engine: Engine) -> tuple[str, dict[str, Table]]:
    """Name of the engine that ran, and its tables. Engines load only to simulate."""
    if choose(engine).engine == "fast":
        from radiosim.engine import fast  # noqa: PLC0415 - loads numba

        if fast.can_run(plan):
            return "fast", fast.run(plan)
    from radiosim.engine import reference  # noqa: PLC0415 - loads simpy

    return "reference", reference.run(plan)
