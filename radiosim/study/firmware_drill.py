"""A receiver's own program drilled as the model is: every fault, over its phases, beside it."""

from collections.abc import Callable, Iterator

from radiosim.firmware.results import ProgramDrill
from radiosim.firmware.tried import Tried
from radiosim.firmware.worked_out import Ran, results_of
from radiosim.scenario import Scenario
from radiosim.scenario.danger import outputs_by_danger
from radiosim.study.drill.drill_kinds import Drill, drills_of, limit_of
from radiosim.study.drill.judged import acts
from radiosim.study.drill.points import Rhythm, phased, rhythm_of, struck

_CYCLES = 4
"""Faults in one start."""
TryStart = Callable[[Scenario, int], Tried]
"""Tries a program on one start of a scenario, on whatever it runs."""


def drill_program(
    scenario: Scenario,
    ran: Ran,
    try_start: TryStart,
    *,
    repeats: int,
    on_drill: Callable[[int, int], None] | None = None,
) -> tuple[ProgramDrill, ...]:
    """Each drill that the scenario's parts allow, with at least so many faults of it.

    `on_drill` is called with (done, total). FirmwareError as of `try_start`.
    """
    rhythm, drills = rhythm_of(scenario, _CYCLES), drills_of(scenario)
    starts = -(-repeats // _CYCLES)
    found = []
    for drill in drills:
        found.append(_drilled(scenario, ran, try_start, drill, rhythm, starts))
        if on_drill is not None:
            on_drill(len(found), len(drills))
    return tuple(found)


def _drilled(
    scenario: Scenario,
    ran: Ran,
    try_start: TryStart,
    drill: Drill,
    rhythm: Rhythm,
    starts: int,
) -> ProgramDrill:
    all_of = []
    for start in range(starts):
        given, _ = struck(phased(scenario, start), drill, rhythm, start, starts)
        one = try_start(given, start)
        all_of.append((given, results_of(given, ran, (one,))))
    worst = max(all_of, key=lambda pair: pair[1].badness)[1]
    return ProgramDrill(
        fault=drill.told_as,
        unit=drill.unit,
        faults=starts * rhythm.cycles,
        verdict=worst.verdict,
        starts_held=sum(results.ok for _, results in all_of),
        starts=starts,
        frames=sum(results.frames for _, results in all_of),
        read_elsewhere=worst.read_elsewhere,
        ended=worst.ended[0] if worst.ended else None,
        span=worst.worst_span,
        unstopped=dict(_unstopped(scenario, drill)),
    )


def _unstopped(scenario: Scenario, drill: Drill) -> Iterator[tuple[str, str]]:
    """Outputs that must react and that nothing bounds, each with why; motors first."""
    streams = drill.streams(scenario)
    for name in outputs_by_danger(scenario, scenario.output):
        if scenario.output[name].stream in streams and acts(scenario, name):
            bound = limit_of(scenario, drill, name).bound
            if bound.why_none:
                yield name, bound.why_none
