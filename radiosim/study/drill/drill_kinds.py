"""Every drill of a scenario, and when an output must be on failsafe at the latest (F6)."""

from collections.abc import Iterator

import msgspec
from msgspec.structs import replace

from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.plan_units import CLOCK_PPB
from radiosim.engine.rules.timing import scaled
from radiosim.errors import OptionError
from radiosim.registers.fault_kind import AIR, RECEIVER, TRANSMITTER, Drilled, Effect
from radiosim.registers.fault_register import FAULT_KINDS, fault_kind
from radiosim.scenario import Scenario
from radiosim.scenario.danger import streams_by_danger
from radiosim.units import NS_PER_US, ns_from_ms
from radiosim.vehicle.reaction_bound import (
    Bound,
    Term,
    bound_of,
    clock_width_ppb,
    latest_over_ns,
    reachable_worst_ns,
    with_slowest_clock,
)

FEW_FRAMES = "few_frames"
"""Kind that drills are told as in which a transmitter is out of range, but for a few frames."""
ALL = "all"
"""Unit of a fault that strikes every transmitter at once."""


class Drill(msgspec.Struct, frozen=True, kw_only=True):
    """One fault of one unit, or of all transmitters at once."""

    kind: str
    effect: Effect
    unit: str
    words: str

    @property
    def name(self) -> str:
        """Name of the drill, as in the results: `power_off drive`."""
        return f"{self.told_as} {self.unit}"

    @property
    def told_as(self) -> str:
        """The kind of fault, or what several of them come to."""
        return FEW_FRAMES if self.effect is Effect.FEW else self.kind

    @property
    def is_instant(self) -> bool:
        """Over as soon as it happens, but for boot or recheck."""
        return not fault_kind(self.kind).is_lasting

    def units(self, scenario: Scenario) -> tuple[str, ...]:
        """The units that fail."""
        return tuple(scenario.transmitter) if self.unit == ALL else (self.unit,)

    def streams(self, scenario: Scenario) -> tuple[str, ...]:
        """The streams that it strikes."""
        if self.unit in scenario.transmitter:
            return (self.unit,)
        return tuple(scenario.transmitter)


def drills_of(scenario: Scenario, skip: tuple[str, ...] = ()) -> tuple[Drill, ...]:
    """Every drill that a scenario's parts allow, but for some kinds of fault.

    Of the units that a kind can strike those come first whose streams drive motors.
    """
    return tuple(_drills(scenario, skip))


def drilled_kinds() -> tuple[str, ...]:
    """Names of the kinds of fault that are drilled somewhere."""
    return tuple(row.name for row in FAULT_KINDS.values() if row.drilled)


def check_skipped(kinds: tuple[str, ...]) -> None:
    """OptionError for kinds of faults that are none, or all of them."""
    known = drilled_kinds()
    for kind in kinds:
        if kind not in known:
            raise OptionError(f"--skip: must be one of {', '.join(known)}, got '{kind}'")
    if set(kinds) >= set(known):
        raise OptionError("--skip: must leave a kind of fault to drill, got all of them")


def _drills(scenario: Scenario, skip: tuple[str, ...]) -> Iterator[Drill]:
    for at in (TRANSMITTER, AIR, RECEIVER):
        for kind in FAULT_KINDS.values():
            for row in kind.drilled:
                if row.at != at or kind.name in skip:
                    continue
                for unit in _units_of(scenario, row):
                    yield Drill(kind=kind.name, effect=row.effect, unit=unit, words=row.words)


def _units_of(scenario: Scenario, row: Drilled) -> tuple[str, ...]:
    """Units that have a drill each; the last may be all transmitters at once."""
    if row.at != TRANSMITTER:
        return (row.at,)
    names = streams_by_danger(scenario)
    if row.effect is Effect.FEW:
        return tuple(name for name in names if few_frames_s(scenario, name) > 0)
    return (*names, ALL) if row.also_all and len(names) > 1 else names


_SHORT_OF = 0.25
"""Share of a period by which a span falls short of the frames that would end failsafe."""


def few_frames_s(scenario: Scenario, stream: str) -> float:
    """For how long a stream may come over without frames enough to end failsafe (rule F3), s.

    0: one frame ends it, or jitter can bring enough of them into any span.
    """
    failsafe, unit = scenario.failsafe.get(stream), scenario.transmitter[stream]
    if failsafe is None or failsafe.resume_frames < 2:
        return 0.0
    ppm = CLOCK_PPB[unit.clock] / 1000 if unit.clock_ppm is None else -unit.clock_ppm
    period_ms = (unit.shortest_ms or unit.pause_ms or 0.0) * (1 - max(0.0, ppm) / 1e6)
    spans_ms = (failsafe.resume_frames - 1 - _SHORT_OF) * period_ms - unit.jitter_ms
    return max(0.0, spans_ms / 1000)


class Limit(msgspec.Struct, frozen=True, kw_only=True):
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
    timeout_ns = latest_over_ns(scenario, failsafe, plan.rx.ppb)
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
