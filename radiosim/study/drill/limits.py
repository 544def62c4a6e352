"""When an output must be on failsafe at the latest, by what struck it (rule F6)."""

from dataclasses import dataclass

from msgspec.structs import replace

from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.rules.grid import scaled
from radiosim.scenario import Scenario
from radiosim.study.drill.kinds import Drill, Effect
from radiosim.units import NS_PER_US, ns_from_ms
from radiosim.vehicle.reaction import (
    Bound,
    Term,
    bound_of,
    clock_width_ppb,
    reachable_worst_ns,
    with_slowest_clock,
)


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
