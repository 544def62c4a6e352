"""What becomes of the age of values where the scenario's own faults are left out."""

import functools
from concurrent.futures import Executor

from msgspec.structs import replace

from radiosim.engine.simulate import Engine
from radiosim.scenario import Scenario
from radiosim.study.journal import Row
from radiosim.study.run_points import run_points
from radiosim.study.tune.choice import lines_of
from radiosim.study.tune.point import judged, tried_of, with_requirements
from radiosim.study.tune.tune_results import Tuned, WithoutFaults


def with_unfaulted(
    found: Tuned,
    part: Scenario,
    *,
    engine: Engine,
    executor: Executor | None = None,
    workers: int | None = None,
) -> Tuned:
    """With the points that are told of tried once more, over the same starts without faults.

    `part`: what the points were judged over. Without faults there is nothing to leave out.
    """
    if not part.fault or found.faults_left_out:
        return found
    told = {
        point.values: point
        for point in (found.as_it_stands, found.best)
        if point is not None and point.figures is not None
    }
    # A requirement may be about a fault.
    calm, _ = with_requirements(replace(part, fault=(), requirement=()))
    rows = run_points(
        functools.partial(_row, calm, engine),
        [
            (point.judged.starts, () if point.is_own else lines_of(found.settings, values))
            for values, point in told.items()
        ],
        fold=tuple,
        executor=executor,
        workers=workers,
    )
    calm_points = [
        tried_of(values, row, is_own=told[values].is_own)
        for values, row in zip(told, rows, strict=True)
    ]
    ages = tuple(
        WithoutFaults(
            values=point.values,
            age_mean_ms=point.judged.age_mean_ms,
            age_p99_ms=point.judged.age_p99_ms,
        )
        for point in calm_points
    )
    return replace(found, without_faults=ages)


def _row(calm: Scenario, engine: Engine, task: tuple[int, tuple[str, ...]]) -> Row:
    """One point, over so many starts."""
    starts, lines = task
    return judged(replace(calm, starts=starts), engine, None, lines)
