"""The table of cures: which key ends a failure that a drill has found."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from radiosim.engine.plan import RECEIVER, make_plan
from radiosim.registers.fault_kind import Effect
from radiosim.scenario import Scenario
from radiosim.signals import Counter
from radiosim.study.drill.drill_kinds import Drill
from radiosim.study.drill.points import needs_power_cycle
from radiosim.study.drill.results import FAILS, Cure, DrillFigures, FeasibleRange, Violation
from radiosim.units import NS_PER_MS
from radiosim.vehicle.reaction_bound import longest_pass_ns, with_slowest_clock

TIMEOUT_MS, RECHECK_MS = 250, 100
"""To begin with, where the scenario has none: our own choice, common practice, no source."""
STEP_MS = 50
"""Watchdogs are told in such steps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One kind of failure of a drill and its cure."""

    is_meant: Callable[[Scenario, Drill, DrillFigures], bool]
    cure: Callable[[Scenario, Drill, DrillFigures], tuple[str, str]]
    """The key with its value, and what it does."""


def _failed(figures: DrillFigures) -> bool:
    return figures.verdict == FAILS and figures.still_driven


def _is_fed_by_others(scenario: Scenario, drill: Drill, figures: DrillFigures) -> bool:
    failsafe = scenario.failsafe.get(figures.stream)
    is_shared = failsafe is not None and failsafe.fed_by == "any"
    return (
        _failed(figures)
        and is_shared
        and drill.effect in (Effect.SILENCE, Effect.REPEATS)
        and len(drill.units(scenario)) < len(scenario.transmitter)
    )


def _is_blind_to_repeats(scenario: Scenario, drill: Drill, figures: DrillFigures) -> bool:
    failsafe = scenario.failsafe.get(figures.stream)
    return (
        _failed(figures)
        and drill.effect is Effect.REPEATS
        and failsafe is not None
        and not failsafe.watch_field
        and bool(_counter(scenario, figures.stream))
    )


def _counter(scenario: Scenario, stream: str) -> str:
    """The field of a stream that goes up with every frame; empty: none."""
    signals = scenario.transmitter[stream].signals
    return next((name for name, signal in signals.items() if isinstance(signal, Counter)), "")


def _watchdog_ms(scenario: Scenario) -> int:
    """The shortest timeout, but well over the longest pass, which must not be taken for a hang."""
    pass_ns = longest_pass_ns(make_plan(with_slowest_clock(scenario), 0)) or 0
    timeouts_ms = [failsafe.timeout_ms for failsafe in scenario.failsafe.values()]
    least_ms = max(min(timeouts_ms, default=TIMEOUT_MS), 2 * pass_ns / NS_PER_MS)
    return STEP_MS * math.ceil(least_ms / STEP_MS)


def _path(unit: str) -> str:
    return unit if unit == RECEIVER else f"transmitter.{unit}"


TABLE = (
    _Row(
        is_meant=lambda scenario, _, it: _failed(it) and it.stream not in scenario.failsafe,
        cure=lambda _, __, it: (
            f"failsafe.{it.stream}.timeout_ms={TIMEOUT_MS}",
            f"gives {it.stream} a failsafe",
        ),
    ),
    _Row(
        is_meant=_is_fed_by_others,
        cure=lambda _, __, it: (
            f"failsafe.{it.stream}.fed_by=own",
            f"only {it.stream}'s own frames feed its timer",
        ),
    ),
    _Row(
        is_meant=_is_blind_to_repeats,
        cure=lambda scenario, _, it: (
            f"failsafe.{it.stream}.watch_field={_counter(scenario, it.stream)}",
            "only frames that count on feed it",
        ),
    ),
    _Row(
        is_meant=lambda scenario, drill, it: (
            _failed(it) and drill.effect is Effect.STANDSTILL and not scenario.receiver.watchdog_ms
        ),
        cure=lambda scenario, _, __: (
            f"receiver.watchdog_ms={_watchdog_ms(scenario)}",
            "a watchdog resets a hung program",
        ),
    ),
    _Row(
        is_meant=lambda scenario, drill, it: (
            bool(it.why_unrecovered) and needs_power_cycle(scenario, drill)
        ),
        cure=lambda _, drill, __: (
            f"{_path(drill.unit)}.recheck_ms={RECHECK_MS}",
            "sets a lost radio up again",
        ),
    ),
)
"""One row a cause; a cause without an obvious key has none."""


def cures_of(
    scenario: Scenario,
    drills: Sequence[Drill],
    figures: Sequence[DrillFigures],
    violations: Sequence[Violation],
    feasible_range: Mapping[str, FeasibleRange],
) -> tuple[Cure, ...]:
    """A cure for each cause that the table knows, each once."""
    found = [*_of_drills(scenario, drills, figures), *_of_violations(violations, feasible_range)]
    return tuple(dict.fromkeys(found))


def _of_drills(
    scenario: Scenario, drills: Sequence[Drill], figures: Sequence[DrillFigures]
) -> Iterator[Cure]:
    named = {drill.name: drill for drill in drills}
    for row in TABLE:
        for figure in figures:
            drill = named[f"{figure.fault} {figure.unit}"]
            if row.is_meant(scenario, drill, figure):
                key, does = row.cure(scenario, drill, figure)
                yield Cure(set=key, does=does)


def _of_violations(
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
