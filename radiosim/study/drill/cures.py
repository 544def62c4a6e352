"""Cures of what a drill has found: for each output that stays driven, the lines that stop it."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from msgspec.structs import replace

from radiosim.engine.plan import make_plan
from radiosim.engine.plan_units import RECEIVER
from radiosim.registers.fault_kind import Effect
from radiosim.safety import OWN_SUPPLY
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import assumed_outputs
from radiosim.study.drill.drill_kinds import Drill
from radiosim.study.drill.points import needs_power_cycle
from radiosim.study.drill.results import (
    FAILS,
    KEEPS,
    UNTRIED,
    BeatTrips,
    Cure,
    DrillFigures,
    FeasibleRange,
    Violation,
)
from radiosim.study.frame_counter import counter_lines, how_to_count
from radiosim.units import NS_PER_MS
from radiosim.vehicle.reaction_bound import longest_pass_ns, with_slowest_clock
from radiosim.vehicle.supply_limits import fewest_apart, loads_of, most_ma_of

TIMEOUT_MS, RECHECK_MS = 250, 100
"""To begin with, where the scenario has none: our own choice, common practice, no source."""
STEP_MS = 50
"""Timeouts and watchdogs are told in such steps."""
SOME_PERIODS = 5
"""A timeout is at least so many periods: fewer trip at a few frames lost."""
STRETCHED = (1, 4, 16)
"""How many times longer a new timeout is made, one try after the other, where outputs do not come
alive with it."""
OFTEN = 6
"""Faults at which an output was alive: about exp(−6) is the chance that it is at none of as many
faults again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """One output that a drill leaves driven, or does not see again."""

    drill: Drill
    output: str
    was_alive: bool = field(compare=False)
    """Alive at so many faults (OFTEN) that it is no chance if it never is again."""


def failures_of(
    scenario: Scenario, drills: Iterable[Drill], figures: Sequence[DrillFigures]
) -> tuple[Failure, ...]:
    """What a cure is asked for: motors, blades and tracks first, each in the order of drills."""
    named = {drill.name: drill for drill in drills}
    return tuple(
        Failure(drill=drill, output=found.output, was_alive=found.repeats >= OFTEN)
        for found in sorted(figures, key=lambda found: found.danger)
        for drill in [named[f"{found.fault} {found.unit}"]]
        if is_left_driven(scenario, found) or _is_lost(scenario, drill, found)
    )


def is_left_driven(scenario: Scenario, figures: DrillFigures) -> bool:
    """Whether a fault leaves an output driven, or nothing bounds how long.

    One whose on_failsafe is hold stays as it is, unless it has a motor.
    """
    has_motor = scenario.output[figures.output].motor is not None
    return figures.verdict == FAILS or (figures.verdict == KEEPS and has_motor)


def _is_lost(scenario: Scenario, drill: Drill, figures: DrillFigures) -> bool:
    return bool(figures.why_unrecovered) and needs_power_cycle(scenario, drill)


def not_cured(
    scenario: Scenario,
    drills: Iterable[Drill],
    figures: Sequence[DrillFigures],
    failures: Iterable[Failure],
) -> tuple[Failure, ...]:
    """Those failures that the drills of a cured scenario show again, or that a cure made dead.

    Of an output that was never alive, now or before the bound alone tells.
    """
    still = {(one.drill.name, one.output) for one in failures_of(scenario, drills, figures)}
    dead = {
        (f"{found.fault} {found.unit}", found.output): found.bound_ms is None
        for found in figures
        if found.verdict == UNTRIED
    }
    return tuple(
        one
        for one in failures
        for name in [(one.drill.name, one.output)]
        if name in still or (name in dead and (one.was_alive or dead[name]))
    )


def cures_for(scenario: Scenario, failure: Failure, stretch: int) -> tuple[Cure, ...]:
    """The lines that a failure asks for; none where no setting helps.

    `stretch`: how many times longer than usual a new timeout is.
    """
    drill, found = failure.drill, []
    if drill.effect is Effect.STANDSTILL and not scenario.receiver.watchdog_ms:
        found.append(
            Cure(
                set=f"receiver.watchdog_ms={watchdog_ms(scenario)}",
                does="a watchdog resets a hung program",
            )
        )
    if drill.effect in (Effect.SILENCE, Effect.FEW, Effect.REPEATS):
        found += _supply_cures(scenario)
        timed = tuple(_timer_cures(scenario, drill, failure.output, stretch))
        watched = _watch_cures(scenario, drill, scenario.output[failure.output].stream)
        if watched is None:
            return ()
        found += [*timed, *watched]
    if needs_power_cycle(scenario, drill):
        found.append(
            Cure(
                set=f"{_path(drill.unit)}.recheck_ms={RECHECK_MS}",
                does="a lost radio is set up again",
            )
        )
    return tuple(found)


def _supply_cures(scenario: Scenario) -> Iterator[Cure]:
    """A supply of their own for the fewest outputs with which the receiver's carries the rest."""
    apart, loads = fewest_apart(scenario), loads_of(scenario)
    drawn_ma = math.fsum(most_ma_of(loads[name]) for name in apart)
    what = "what they draw" if len(apart) > 1 else "what it draws"
    does = (
        f"{what}, up to {drawn_ma:.4g} mA as when stalled, no longer brings the receiver down; "
        f"{OWN_SUPPLY}"
    )
    for name in apart:
        yield Cure(set=f'output.{name}.load.supply="own"', does=does)


def _timer_cures(scenario: Scenario, drill: Drill, name: str, stretch: int) -> Iterator[Cure]:
    """What a timer needs to run out once its stream is silent, and its output to obey it."""
    output = scenario.output[name]
    stream, failsafe = output.stream, scenario.failsafe.get(output.stream)
    if _pass_ms(scenario) is None:
        scenario = replace(scenario, receiver=replace(scenario.receiver, interrupt=False))
        yield Cure(
            set="receiver.interrupt=false",
            does="reads no longer hold up a pass without end, which looks at the timers",
        )
    if failsafe is None:
        pass_ms = _pass_ms(scenario) or 0.0
        period_ms = scenario.transmitter[stream].period_ms or 0.0
        timeout_ms = stretch * max(TIMEOUT_MS, SOME_PERIODS * period_ms, 2 * pass_ms)
        does = f"gives {stream} a failsafe"
        yield Cure(set=f"failsafe.{stream}.timeout_ms={_stepped(timeout_ms)}", does=does)
    if output.on_failsafe == "hold":
        does = f"{name} is off on failsafe; or measure the value at which it stands still"
        yield from (Cure(set=line, does=does) for line in _off_lines(scenario, name))
    has_others = set(scenario.transmitter) - set(drill.streams(scenario))
    if failsafe is not None and failsafe.fed_by == "any" and has_others:
        does = f"only {stream}'s own frames feed its timer"
        yield Cure(set=f"failsafe.{stream}.fed_by=own", does=does)


def _off_lines(scenario: Scenario, name: str) -> Iterator[str]:
    """What ends an output's pulses on failsafe; an assumed output is described whole."""
    output = scenario.output[name]
    if name in assumed_outputs(scenario):
        low, high = output.value
        yield f"output.{name}.stream={output.stream}"
        yield f"output.{name}.field={output.field}"
        yield f"output.{name}.value=[{low!r}, {high!r}]"
    yield f"output.{name}.on_failsafe=off"


def _watch_cures(scenario: Scenario, drill: Drill, stream: str) -> tuple[Cure, ...] | None:
    """What tells old values from new ones; None: the frame has no counter, and no room for one."""
    failsafe = scenario.failsafe.get(stream)
    if drill.effect is not Effect.REPEATS or (failsafe is not None and failsafe.watch_field):
        return ()
    added, field = counter_lines(scenario, stream)
    if not field:
        return None
    adds = tuple(
        Cure(
            set=line,
            does="room for it"
            if ".payload_length=" in line
            else "a counter in its frames, one more each",
        )
        for line in added
    )
    watches = Cure(
        set=f"failsafe.{stream}.watch_field={field}", does="only frames that count on feed it"
    )
    return (*adds, watches)


def instead_of_a_setting(scenario: Scenario, failure: Failure) -> str:
    """What hardware or firmware must do where no setting cures a failure."""
    stream = scenario.output[failure.output].stream
    if failure.drill.effect is Effect.FEW:
        return f"its firmware must count the frames in a row of {stream} afresh after a gap"
    if _watch_cures(scenario, failure.drill, stream) is None:
        watch = f"failsafe.{stream}.watch_field must watch it"
        return f"{stream} needs a counter: {how_to_count(scenario, stream)}; {watch}"
    if needs_power_cycle(scenario, failure.drill):
        return "its firmware must write the settings of its radio again at intervals"
    return (
        "the supply of what moves needs a relay that opens by itself unless the receiver's "
        "firmware keeps a pin toggling"
    )


def _pass_ms(scenario: Scenario) -> float | None:
    pass_ns = longest_pass_ns(make_plan(with_slowest_clock(scenario), 0))
    return None if pass_ns is None else pass_ns / NS_PER_MS


def watchdog_ms(scenario: Scenario) -> int:
    """The shortest timeout, but well over the longest pass, which must not be taken for a hang."""
    timeouts_ms = [failsafe.timeout_ms for failsafe in scenario.failsafe.values()]
    return _stepped(max(min(timeouts_ms, default=TIMEOUT_MS), 2 * (_pass_ms(scenario) or 0.0)))


def _stepped(time_ms: float) -> int:
    return STEP_MS * math.ceil(time_ms / STEP_MS)


def _path(unit: str) -> str:
    return unit if unit == RECEIVER else f"transmitter.{unit}"


def timeouts_for(
    violations: Sequence[Violation], feasible_range: Mapping[str, FeasibleRange]
) -> Iterator[Cure]:
    """A timeout that keeps both what was asked, where there is one."""
    for violation in violations:
        if (
            violation.stream in feasible_range
            and not feasible_range[violation.stream].is_empty
            and not violation.is_drilled
        ):
            yield Cure(
                set=f"failsafe.{violation.stream}.timeout_ms={feasible_range[violation.stream].longest_ms:g}",
                does="the longest timeout that keeps what was asked",
            )


def periods_for(beats: Iterable[BeatTrips]) -> Iterator[Cure]:
    """The period that ends each beat that trips a failsafe."""
    for beat in beats:
        yield Cure(set=beat.set, does=f"{beat.first} and {beat.second} no longer beat")
