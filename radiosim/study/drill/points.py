"""When a drill's faults strike: fault phase, schedule offsets and refresh phase, spread evenly.

Each start has phases of its own and some faults, one after the other. Phases that the scenario
leaves to chance are not drawn but taken from Kronecker's sequence, a point for each start, so that
a few hundred faults leave no corner of the phases out; those that the scenario fixes stay as they
are.

Source of the sequence: L. Kuipers and H. Niederreiter, "Uniform Distribution of Sequences" (1974),
from memory: multiples of square roots of primes, which no whole numbers tie to each other.
"""

import itertools
import math
from collections.abc import Iterator, Mapping
from itertools import pairwise

import msgspec
from msgspec.structs import replace

from radiosim.chance import PHASE, draw_below, key_of
from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.plan_units import RECEIVER
from radiosim.measure.of_output import NEVER
from radiosim.registers.fault_kind import RECHECK, WATCHDOG, Effect
from radiosim.registers.fault_register import fault_kind
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import Fault
from radiosim.scenario.structs.output_table import Output
from radiosim.scenario.structs.receiver_table import Receiver
from radiosim.scenario.structs.transmitter_table import Transmitter
from radiosim.study.drill.drill_kinds import Drill, few_frames_s
from radiosim.units import NS_PER_S
from radiosim.vehicle.reaction_bound import bound_of, longest_pass_ns, with_slowest_clock

ONE_30 = 1 << 30
SETTLED_S = 1.0
"""Time until outputs are alive again after a boot, the frames that this takes, and a stick's way
past its neutral."""
ROOM_FOR_LOSS, MOST_RESUMING_S = 3, 120.0
"""How many times the frames that end failsafe are waited for, and how long at most."""
MOST_NEUTRAL_S, LOOKED_AT_S, GLANCE_S = 20.0, 60.0, 0.02
"""How long is waited for that at most, over what it is looked for, and in which steps."""
SPARE_S = 0.6
"""How long a fault goes on after failsafe must be in effect: servos get to their places."""
REVIVED_S = 0.05
"""How long a unit is off whose radio would stay lost otherwise."""
LONGEST_WAIT_S = 10.0
"""A phase is never spread over more than this."""


class Rhythm(msgspec.Struct, frozen=True, kw_only=True):
    """The times of all drills of a scenario."""

    first_s: float
    """When everything runs."""
    settle_s: float
    """From the end of one fault to the next, at least."""
    hold_s: float
    """How long a fault lasts."""
    span_s: Mapping[str, float]
    """Time over which a unit's faults are spread, by unit."""
    cycles: int
    """Faults in one start."""
    spread_s: float = 0.0
    """How much longer than that a fault may last, drawn for each: no hand keeps to the beat of
    frames, and which of them the receiver takes for duplicates hangs on that (rule D3)."""
    more_s: float = 0.0
    """How much longer a drill takes in which frames come over in between."""

    @property
    def longest_span_s(self) -> float:
        """The longest of the spans."""
        return max(self.span_s.values())

    @property
    def cycle_s(self) -> float:
        """From one fault to the next, at most."""
        lasts_s = self.hold_s + self.spread_s + self.more_s
        return self.settle_s + self.longest_span_s + lasts_s + REVIVED_S


def rhythm_of(scenario: Scenario, cycles: int) -> Rhythm:
    """Long enough for the slowest of all bounds, so that what is not over by then never ends."""
    units = scenario.transmitter
    plan = make_plan(with_slowest_clock(scenario), 0)
    parts: list[Transmitter | Receiver] = [scenario.receiver, *units.values()]
    boots_s = max(max(unit.boot_s, unit.warm_boot_s) for unit in parts)
    bounds_ns = [bound_of(scenario, plan, name).total_ns or 0 for name in scenario.output]
    timeouts_s = [failsafe.timeout_ms / 1000 for failsafe in scenario.failsafe.values()]
    watchdog_s = scenario.receiver.watchdog_ms / 1000
    last_s = max(bounds_ns, default=0) / NS_PER_S
    pass_s = (longest_pass_ns(plan) or 0) / NS_PER_S
    period_s = {name: _period_s(unit) for name, unit in units.items()}
    return Rhythm(
        first_s=max([scenario.receiver.boot_s, *(u.start_s + u.boot_s for u in units.values())]),
        settle_s=boots_s + SETTLED_S + _resuming_s(scenario) + _neutral_s(scenario, plan),
        hold_s=max([last_s, watchdog_s, *(1.2 * t for t in timeouts_s)])
        + SPARE_S
        + max((_turn_s(output) for output in scenario.output.values()), default=0.0),
        span_s={
            unit: min(max(*period_s.values(), period_s.get(unit, 0.0), pass_s), LONGEST_WAIT_S)
            for unit in (*units, "")
        },
        cycles=cycles,
    )


def _period_s(unit: Transmitter) -> float:
    return (unit.period_ms or unit.pause_ms or 0.0) / 1000


def _turn_s(output: Output) -> float:
    """How long a servo takes from one end to the other, s; 0 without one."""
    servo = output.servo
    return 0.0 if servo is None else servo.seconds_per_60deg / 60 * servo.travel_deg


def _resuming_s(scenario: Scenario) -> float:
    """The longest time that a transmitter takes to send all the frames that end failsafe (rule
    F3)."""
    waits_s = (
        _period_s(unit)
        * (scenario.failsafe[name].resume_frames if name in scenario.failsafe else 1)
        for name, unit in scenario.transmitter.items()
    )
    return min(ROOM_FOR_LOSS * max(waits_s), MOST_RESUMING_S)


def _neutral_s(scenario: Scenario, plan: Plan) -> float:
    """The longest time for which a stick keeps outputs from coming alive again (rule F3)."""
    waits_s = (_away_s(scenario, plan, name) for name in scenario.failsafe)
    return min(max(waits_s, default=0.0), MOST_NEUTRAL_S)


def _away_s(scenario: Scenario, plan: Plan, stream: str) -> float:
    """The longest time for which the field that a timer needs is away from its neutral."""
    needs = scenario.failsafe[stream].resume_needs
    if needs is None:
        return 0.0
    payload = plan.payloads[plan.streams.index(stream)]
    place = payload.layout.index_of(needs.field)
    neutral, away, longest = payload.layout.fields[place].neutral, 0, 0
    for glance in range(round(LOOKED_AT_S / GLANCE_S)):
        value = payload.value(place, glance, round(glance * GLANCE_S * NS_PER_S))
        away = 0 if abs(value - neutral) <= needs.within else away + 1
        longest = max(longest, away)
    return longest * GLANCE_S


def without_hopeless_needs(scenario: Scenario) -> tuple[Scenario, tuple[str, ...]]:
    """The scenario without `resume_needs` that its sticks never meet, and what was left out.

    Outputs of such a stream never come alive, and nothing could be drilled.
    """
    plan, notes = make_plan(scenario, 0), []
    failsafe = dict(scenario.failsafe)
    for name, timer in scenario.failsafe.items():
        if timer.resume_needs is not None and _away_s(scenario, plan, name) >= LOOKED_AT_S:
            failsafe[name] = replace(timer, resume_needs=None)
            notes.append(
                f"{name} NEVER COMES ALIVE in this scenario: {timer.resume_needs.field} is never "
                f"within {timer.resume_needs.within:g} of neutral, for which its failsafe waits "
                "(resume_needs); drilled without that"
            )
    return replace(scenario, failsafe=failsafe), tuple(notes)


class Strike(msgspec.Struct, frozen=True, kw_only=True):
    """One fault of a drill."""

    at_ns: int
    until_ns: int
    """Until when the unit is looked at; it is made to come back then, if it has not by itself."""
    over_ns: int
    """When the fault itself is over, boot apart; −1: its unit does not come back by itself."""
    next_ns: int
    """When the next fault strikes, or the start ends."""
    returns: tuple[tuple[int, int], ...] = ()
    """Spans in it in which a few frames come over."""


def phased(scenario: Scenario, start: int, *, is_even: bool = True) -> Scenario:
    """The scenario without faults, its drawn phases spread over their circles.

    Evenly over many starts; else each start draws them for itself, as a power-on does.
    """
    numbers = _sequence(scenario.seed, start) if is_even else _drawn(scenario.seed, start)
    transmitters = {
        name: replace(unit, offset_ms=next(numbers) * (unit.period_ms or unit.pause_ms or 0.0))
        if unit.offset_ms == "drawn"
        else unit
        for name, unit in scenario.transmitter.items()
    }
    outputs = {
        name: replace(output, phase_ms=next(numbers) * 1000 / output.refresh_hz)
        if output.phase_ms == "drawn"
        else output
        for name, output in scenario.output.items()
    }
    return replace(
        scenario, transmitter=transmitters, output=outputs, fault=(), requirement=(), starts=1
    )


def struck(
    scenario: Scenario, drill: Drill, rhythm: Rhythm, start: int, of_starts: int
) -> tuple[Scenario, tuple[Strike, ...]]:
    """A scenario of `phased` with one start's faults, and when they strike."""
    faults: list[Fault] = []
    strikes: list[Strike] = []
    rhythm = rhythm_at(scenario, drill, rhythm)
    duration_s = rhythm.first_s + rhythm.cycles * rhythm.cycle_s + rhythm.settle_s
    times_s = [_at_s(scenario, drill, rhythm, start, of_starts, k) for k in range(rhythm.cycles)]
    for cycle, (at_s, next_s) in enumerate(pairwise((*times_s, duration_s))):
        lasts_s = _lasts_s(scenario, drill, rhythm, start, cycle)
        faults += _faults(scenario, drill, lasts_s, at_s)
        returns_s = tuple(_returns(scenario, drill, rhythm, at_s + lasts_s))
        for _, gone_s in returns_s:
            faults += _faults(scenario, drill, rhythm.hold_s, gone_s)
        over_s = lasts_s if not returns_s else returns_s[-1][1] + rhythm.hold_s - at_s
        strikes.append(
            Strike(
                at_ns=round(at_s * NS_PER_S),
                until_ns=round((at_s + over_s) * NS_PER_S),
                over_ns=_over_ns(scenario, drill, over_s, at_s),
                next_ns=round(next_s * NS_PER_S),
                returns=tuple((round(a * NS_PER_S), round(b * NS_PER_S)) for a, b in returns_s),
            )
        )
    return replace(scenario, fault=tuple(faults), duration_s=duration_s), tuple(strikes)


RETURNS = 4
"""How often a few frames come over: together more than end failsafe, if they are counted on."""


def rhythm_at(scenario: Scenario, drill: Drill, rhythm: Rhythm) -> Rhythm:
    """The times of one drill: longer where frames come over in between."""
    if drill.effect is not Effect.FEW:
        return rhythm
    few_s = few_frames_s(scenario, drill.unit)
    return replace(rhythm, more_s=RETURNS * (few_s + rhythm.hold_s))


def _returns(
    scenario: Scenario, drill: Drill, rhythm: Rhythm, first_s: float
) -> Iterator[tuple[float, float]]:
    """From when to when a few frames come over, as long apart as the first time."""
    if drill.effect is not Effect.FEW:
        return
    few_s = few_frames_s(scenario, drill.unit)
    for k in range(RETURNS):
        since_s = round(first_s + k * (few_s + rhythm.hold_s), 9)
        yield since_s, round(since_s + few_s, 9)


def _at_s(
    scenario: Scenario, drill: Drill, rhythm: Rhythm, start: int, of_starts: int, cycle: int
) -> float:
    """When a fault strikes: one stratum of the span for each fault of all starts."""
    count, number = of_starts * rhythm.cycles, cycle * of_starts + start
    key = key_of(scenario.seed, start, "drill", drill.name)
    inside = draw_below(key, PHASE, ONE_30, cycle) / ONE_30
    share = ((number * _step(count)) % count + inside) / count
    span_s = rhythm.span_s.get(drill.unit, rhythm.longest_span_s)
    begins_s = rhythm.first_s + cycle * rhythm.cycle_s + rhythm.settle_s
    return round(begins_s + share * span_s, 9)


def _lasts_s(scenario: Scenario, drill: Drill, rhythm: Rhythm, start: int, cycle: int) -> float:
    """How long a fault lasts."""
    key = key_of(scenario.seed, start, "lasts", drill.name)
    share = draw_below(key, PHASE, ONE_30, cycle) / ONE_30
    return round(rhythm.hold_s + share * rhythm.spread_s, 9)


def _step(count: int) -> int:
    """About the golden part of a number, and without a common factor: visits all strata."""
    step = max(1, round(count * (math.sqrt(5) - 1) / 2))
    while math.gcd(step, count) > 1:
        step += 1
    return step


def _faults(scenario: Scenario, drill: Drill, lasts_s: float, at_s: float) -> Iterator[Fault]:
    for unit in drill.units(scenario):
        for_s = None if drill.is_instant else lasts_s
        yield Fault(at_s=at_s, kind=drill.kind, unit=unit, for_s=for_s)
        if RECHECK in fault_kind(drill.kind).ended_by and not _rechecks(scenario, unit):
            back_s = round(at_s + lasts_s, 9)
            yield Fault(at_s=back_s, kind="power_off", unit=unit, for_s=REVIVED_S)


def _over_ns(scenario: Scenario, drill: Drill, lasts_s: float, at_s: float) -> int:
    """When a fault is over; a watchdog ends a hang."""
    if drill.is_instant:
        return NEVER if needs_power_cycle(scenario, drill) else round(at_s * NS_PER_S)
    is_bitten = WATCHDOG in fault_kind(drill.kind).ended_by
    watchdog_s = _part(scenario, drill.unit).watchdog_ms / 1000 if is_bitten else 0.0
    return round((at_s + min(watchdog_s or lasts_s, lasts_s)) * NS_PER_S)


def needs_power_cycle(scenario: Scenario, drill: Drill) -> bool:
    """Whether nothing but a power-on ends what a fault has left behind."""
    return RECHECK in fault_kind(drill.kind).ended_by and not _rechecks(scenario, drill.unit)


def _rechecks(scenario: Scenario, unit: str) -> bool:
    """Whether a radio that lost its settings comes back by itself."""
    return _part(scenario, unit).recheck_ms > 0


def _part(scenario: Scenario, unit: str) -> Transmitter | Receiver:
    return scenario.receiver if unit == RECEIVER else scenario.transmitter[unit]


_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71)


def _sequence(seed: int, start: int) -> Iterator[float]:
    """One point of Kronecker's sequence with a shift from the seed, number by number, 0 to 1."""
    place = 0
    while True:
        # With more phases than primes the later ones go round in another order.
        root = math.sqrt(_PRIMES[place % len(_PRIMES)]) * (1 + place // len(_PRIMES))
        shift = draw_below(key_of(seed, 0, "drill", str(place)), PHASE, ONE_30) / ONE_30
        yield (start * root + shift) % 1.0
        place += 1


def _drawn(seed: int, start: int) -> Iterator[float]:
    """Independent draws of a start, number by number, 0 to 1."""
    key = key_of(seed, start, "drill", "phases")
    return (draw_below(key, PHASE, ONE_30, place) / ONE_30 for place in itertools.count())
