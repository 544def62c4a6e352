"""Figures of simulated logs of a scenario, for a part of a log."""

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from functools import partial

from msgspec import Struct
from msgspec.structs import replace

from radiosim.bench_log.lives import unit_log
from radiosim.bench_log.records import RECEIVER
from radiosim.engine.simulate import Engine
from radiosim.scenario import Scenario
from radiosim.study.bench.counted_steps import ordinary, up_s
from radiosim.study.fit.figure import Figure, Values, Window
from radiosim.study.fit.gaps import gap_values
from radiosim.study.fit.log_figures import figures_of, values_of
from radiosim.study.fit.reactions import simulated_reactions, without_outputs
from radiosim.study.fit.simulated import logs_of
from radiosim.study.run_points import OnProgress, run_points

_SLOWEST = 1.03
"""A clock is off by 2 % at most (rule T5): a log may last so much longer."""
_FIRST_S = 3.0
"""For first frames, and the second after them."""


class Part(Struct, frozen=True, kw_only=True):
    """A part of a run's logs, and what it shows."""

    window: Window
    figures: Mapping[str, Figure]
    reactions: Mapping[str, int]
    """How many reactions of each stream's failsafe are in its figure."""


class Simulating(Struct, frozen=True, kw_only=True):
    """What logs are simulated of, and with what."""

    units: tuple[str, ...]
    real_time: tuple[str, ...] = ()
    """Those of them that were logged by a logic analyser's clock."""
    engine: Engine = "auto"
    workers: int | None = None
    executor: Executor | None = None

    def values(
        self,
        scenario: Scenario,
        part: Part,
        numbers: range,
        on_progress: OnProgress | None = None,
    ) -> tuple[Values, ...]:
        """Figures of simulated logs, of starts by number; without faults, but for reactions."""
        window = part.window
        lasts_s = (window.skipped_us + window.length_us) / 1e6 * _SLOWEST
        quiet = replace(
            without_outputs(scenario),
            fault=(),
            requirement=(),
            duration_s=up_s(scenario) + _FIRST_S + lasts_s,
        )
        found = run_points(
            partial(_values, quiet, self.units, self.real_time, window, self.engine),
            numbers,
            fold=tuple,
            is_ready=True,
            workers=self.workers,
            executor=self.executor,
            on_progress=on_progress,
        )
        for name, count in part.reactions.items():
            means = simulated_reactions(
                scenario,
                name,
                count,
                numbers,
                engine=self.engine,
                workers=self.workers,
                executor=self.executor,
            )
            key = f"reaction.{name}"
            found = tuple({**one, key: means[k]} if means else one for k, one in enumerate(found))
        return found


def _values(
    scenario: Scenario,
    units: Sequence[str],
    real_time: Sequence[str],
    window: Window,
    engine: Engine,
    number: int,
) -> Values:
    from radiosim.vehicle.feedback import simulate  # noqa: PLC0415 - the engine loads slowly

    trace = simulate(scenario, start=ordinary(number), engine=engine)
    made = {
        unit: records
        for is_real_time in (False, True)
        if (some := [unit for unit in units if (unit in real_time) == is_real_time])
        for unit, records in logs_of(
            trace, units=some, has_acts=bool(window.failsafes), is_real_time=is_real_time
        ).items()
    }
    logs = [unit_log(records, unit, "simulated") for unit, records in made.items()]
    found = values_of(figures_of(scenario, logs, window))
    for log in logs:
        if log.unit == RECEIVER:
            found |= gap_values(scenario, log, window)
    return found
