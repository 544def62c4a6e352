"""Every fault that is drilled, and when an output must be on failsafe at the latest (F6)."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import Enum

from msgspec.structs import replace

from radiosim.engine.plan import AIR, RECEIVER, Plan, make_plan
from radiosim.engine.rules.timing import scaled
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import INSTANT_KINDS, FaultKind
from radiosim.units import NS_PER_US, ns_from_ms
from radiosim.vehicle.reaction_bound import (
    Bound,
    Term,
    bound_of,
    clock_width_ppb,
    reachable_worst_ns,
    with_slowest_clock,
)

ALL = "all"
"""Unit of a fault that strikes every transmitter at once."""


class Effect(Enum):
    """What a fault does to the streams that it strikes, and so which bound holds."""

    SILENCE = "nothing arrives any more"
    REPEATS = "old values arrive again and again"
    NO_PULSES = "the receiver's pins float"
    STANDSTILL = "the receiver's program stands still while its pulses go on"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One row of the table."""

    kind: FaultKind
    effect: Effect
    strikes: Callable[[Scenario], tuple[str, ...]]
    """Units that can have it, each a drill of its own."""
    words: str
    """What happens, as it is said of a unit."""


def _each(scenario: Scenario) -> tuple[str, ...]:
    return tuple(scenario.transmitter)


def _each_and_all(scenario: Scenario) -> tuple[str, ...]:
    names = tuple(scenario.transmitter)
    return (*names, ALL) if len(names) > 1 else names


def _receiver(_: Scenario) -> tuple[str, ...]:
    return (RECEIVER,)


def _air(_: Scenario) -> tuple[str, ...]:
    return (AIR,)


KINDS = (
    Kind(kind="power_off", effect=Effect.SILENCE, strikes=_each_and_all, words="off and on again"),
    Kind(kind="reset", effect=Effect.SILENCE, strikes=_each, words="resets and comes back"),
    Kind(kind="hang", effect=Effect.SILENCE, strikes=_each, words="program hangs"),
    Kind(kind="radio_reset", effect=Effect.SILENCE, strikes=_each, words="radio loses settings"),
    Kind(kind="stale", effect=Effect.REPEATS, strikes=_each, words="repeats old values"),
    Kind(kind="out_of_range", effect=Effect.SILENCE, strikes=_each_and_all, words="out of range"),
    Kind(kind="jam", effect=Effect.SILENCE, strikes=_air, words="jammed"),
    Kind(kind="reset", effect=Effect.NO_PULSES, strikes=_receiver, words="resets"),
    Kind(kind="brownout", effect=Effect.NO_PULSES, strikes=_receiver, words="browns out"),
    Kind(
        kind="radio_reset", effect=Effect.SILENCE, strikes=_receiver, words="radio loses settings"
    ),
    Kind(kind="hang", effect=Effect.STANDSTILL, strikes=_receiver, words="program hangs"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """One fault of one unit, or of all transmitters at once."""

    kind: FaultKind
    effect: Effect
    unit: str
    words: str

    @property
    def name(self) -> str:
        """Name of the drill, as in the results: `power_off drive`."""
        return f"{self.kind} {self.unit}"

    @property
    def is_instant(self) -> bool:
        """Over as soon as it happens, but for boot or recheck."""
        return self.kind in INSTANT_KINDS

    def units(self, scenario: Scenario) -> tuple[str, ...]:
        """The units that fail."""
        return tuple(scenario.transmitter) if self.unit == ALL else (self.unit,)

    def streams(self, scenario: Scenario) -> tuple[str, ...]:
        """The streams that it strikes."""
        if self.unit in scenario.transmitter:
            return (self.unit,)
        return tuple(scenario.transmitter)


def drills_of(scenario: Scenario, skip: tuple[str, ...] = ()) -> tuple[Drill, ...]:
    """Every drill that a scenario's parts allow, but for some kinds of fault."""
    return tuple(_drills(scenario, skip))


def _drills(scenario: Scenario, skip: tuple[str, ...]) -> Iterator[Drill]:
    for row in KINDS:
        if row.kind in skip:
            continue
        for unit in row.strikes(scenario):
            yield Drill(kind=row.kind, effect=row.effect, unit=unit, words=row.words)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """The bound of one output at one kind of fault."""

    bound: Bound
    reachable_ns: int | None
    """The worst that equal passes can reach; None without a bound."""


def limit_of(scenario: Scenario, drill: Drill, name: str) -> Limit:
    """The limit of an output of a stream that a drill strikes."""
    scenario = with_slowest_clock(_lone(scenario, drill, name))
    plan = make_plan(scenario, 0)
    if drill.effect is Effect.NO_PULSES:
        return _at_once(_float_terms(scenario, name))
    if drill.effect is Effect.STANDSTILL:
        return _watched(scenario, name)
    output = scenario.output[name]
    failsafe = scenario.failsafe.get(output.stream)
    is_blind = failsafe is not None and not failsafe.watch_field
    if drill.effect is Effect.REPEATS and is_blind and output.on_failsafe != "hold":
        why = "old values feed its timer like new ones (no watch_field)"
        return Limit(bound=Bound(terms=(), why_none=why), reachable_ns=None)
    bound = bound_of(scenario, plan, name)
    return Limit(bound=bound, reachable_ns=_reachable_ns(scenario, plan, bound, output.stream))


def _lone(scenario: Scenario, drill: Drill, name: str) -> Scenario:
    """With every stream silent no other feeds a timer: as if it were fed by its own."""
    stream = scenario.output[name].stream
    failsafe = scenario.failsafe.get(stream)
    others = set(scenario.transmitter) - set(drill.streams(scenario))
    if failsafe is None or failsafe.fed_by == "own" or others:
        return scenario
    lone = {**scenario.failsafe, stream: replace(failsafe, fed_by="own")}
    return replace(scenario, failsafe=lone)


def _reachable_ns(scenario: Scenario, plan: Plan, bound: Bound, stream: str) -> int | None:
    if bound.total_ns is None:
        return None
    failsafe = scenario.failsafe[stream]
    timeout_ns = scaled(ns_from_ms(failsafe.timeout_ms), plan.rx.ppb)
    return reachable_worst_ns(plan, bound, timeout_ns, fed_at_arrival=failsafe.fed_at == "arrival")


def _at_once(terms: tuple[Term, ...]) -> Limit:
    bound = Bound(terms=terms)
    return Limit(bound=bound, reachable_ns=bound.total_ns)


def _float_terms(scenario: Scenario, name: str) -> tuple[Term, ...]:
    """Pins that float end a pulse as it is; a motor's controller waits for the next."""
    output = scenario.output[name]
    terms = []
    if output.kind == "servo":
        terms.append(Term(name="pulse under way", ns=round(max(output.limit_us) * NS_PER_US)))
    if output.motor is not None:
        loss_ns = ns_from_ms(output.motor.signal_loss_ms)
        terms.append(Term(name="controller's signal loss", ns=loss_ns))
    return tuple(terms)


def _watched(scenario: Scenario, name: str) -> Limit:
    """Only a watchdog ends a program that stands still (rule E3)."""
    watchdog_ns = ns_from_ms(scenario.receiver.watchdog_ms)
    if not watchdog_ns:
        why = "its program hangs, its pulses go on, and there is no watchdog"
        return Limit(bound=Bound(terms=(), why_none=why), reachable_ns=None)
    term = Term(name="watchdog", ns=scaled(watchdog_ns, clock_width_ppb(scenario)))
    return _at_once((term, *_float_terms(scenario, name)))


def feeders(scenario: Scenario, stream: str) -> tuple[str, ...]:
    """Streams whose frames feed a stream's timer (rule F1)."""
    failsafe = scenario.failsafe.get(stream)
    is_shared = failsafe is not None and failsafe.fed_by == "any"
    return tuple(scenario.transmitter) if is_shared else (stream,)
