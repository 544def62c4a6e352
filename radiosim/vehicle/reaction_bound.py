"""How long an output can go on after its transmitter went silent (rule F6)."""

import msgspec

from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import ONE
from radiosim.engine.plan_units import CLOCK_PPB
from radiosim.engine.rules.timing import scaled
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import Failsafe
from radiosim.scenario.structs.output_table import Output, Preset
from radiosim.units import NS_PER_US, ns_from_ms
from radiosim.vehicle.output_fold import pulse_period_ns
from radiosim.vehicle.supply_limits import can_brown_out

ENDLESS_PASS = (
    "a read takes as long as a frame: reads can hold up a pass without end, and with it the look "
    "at the timer"
)
"""Why there may be no bound where interrupts read (rule F2)."""
BROWNS_OUT = "what outputs draw together can bring the receiver down first, and then its pins float"
"""Why there is none where a supply is too weak for all of its loads (rule E4)."""

TIMEOUT, TICK, PASS = "timeout", "tick of its clock", "longest pass"
"""Names of terms."""


class Term(msgspec.Struct, frozen=True, kw_only=True):
    """One part of a bound."""

    name: str
    ns: int


class Bound(msgspec.Struct, frozen=True, kw_only=True):
    """Longest time from the last attempt that could be delivered to the failsafe value."""

    terms: tuple[Term, ...]
    why_none: str = ""
    """Not empty: there is no bound, for this reason."""

    @property
    def total_ns(self) -> int | None:
        """Sum of the terms; None where there is no bound."""
        return None if self.why_none else sum(term.ns for term in self.terms)


def longest_pass_ns(plan: Plan) -> int | None:
    """The longest pass of the receiver program, ns; None if reads can hold it up for ever.

    A polled pass reads one frame or a full FIFO. An interrupt reads while the pass lasts: no
    more frames than fit on the air meanwhile, and one more.
    """
    rx = plan.rx
    held_ns = rx.pass_ns + sum(work.longest_ns for work in rx.work)
    reading_ns = max(tx.reading_ns for tx in plan.tx)
    if not rx.interrupt:
        return held_ns + reading_ns * (1 if rx.read == ONE else rx.fifo_frames)
    frame_ns = min(tx.frame_ns for tx in plan.tx)
    if reading_ns >= frame_ns:
        return None
    return (held_ns + reading_ns) * frame_ns // (frame_ns - reading_ns) + 1


def longest_wait_ns(plan: Plan, fed_at_arrival: bool) -> int | None:
    """Longest time from a frame's end until it feeds the timer, ns (W of rule F6).

    Interrupts-off spans count only where an interrupt reads: elsewhere they are part of a pass.
    """
    rx, pass_ns = plan.rx, longest_pass_ns(plan)
    if fed_at_arrival:
        return rx.interrupt_ns
    if rx.interrupt:
        return rx.interrupt_ns + sum(work.longest_ns for work in rx.work if work.interrupts_off)
    if pass_ns is None:
        return None
    return rx.interrupt_ns + pass_ns * (rx.fifo_frames if rx.read == ONE else 1)


def bound_of(scenario: Scenario, plan: Plan, name: str) -> Bound:
    """The bound of one output when its own transmitter goes silent (rule F6)."""
    output = scenario.output[name]
    failsafe = scenario.failsafe.get(output.stream)
    if failsafe is None:
        return Bound(terms=(), why_none="its stream has no failsafe")
    if output.on_failsafe == "hold":
        return Bound(terms=(), why_none="it holds its last value")
    if failsafe.fed_by == "any" and len(plan.tx) > 1:
        return Bound(terms=(), why_none="any other stream feeds its timer")
    if can_brown_out(scenario):
        return Bound(terms=(), why_none=BROWNS_OUT)
    pass_ns = longest_pass_ns(plan)
    wait_ns = longest_wait_ns(plan, failsafe.fed_at == "arrival")
    if pass_ns is None or wait_ns is None:
        return Bound(terms=(), why_none=ENDLESS_PASS)
    slow_ppb = clock_width_ppb(scenario)
    terms = [
        Term(name="wait in the FIFO", ns=wait_ns),
        *_timeout_terms(scenario, failsafe, slow_ppb),
        Term(name=PASS, ns=pass_ns),
        *_output_terms(output, slow_ppb),
    ]
    return Bound(terms=tuple(terms))


def _timeout_terms(scenario: Scenario, failsafe: Failsafe, ppb: int) -> list[Term]:
    """The timeout, and how much later the program's clock can find it over (rule F2)."""
    timeout_ns = scaled(ns_from_ms(failsafe.timeout_ms), ppb)
    terms = [Term(name=TIMEOUT, ns=timeout_ns)]
    if ns_from_ms(scenario.receiver.clock_tick_ms):
        late_ns = latest_over_ns(scenario, failsafe, ppb) - timeout_ns
        terms.append(Term(name=TICK, ns=late_ns))
    return terms


def latest_over_ns(scenario: Scenario, failsafe: Failsafe, ppb: int) -> int:
    """How long after a feed the program's clock finds the timeout over at the latest, ns (F2).

    `ppb`: error of that clock.
    """
    timeout_ns, tick_ns = (
        ns_from_ms(failsafe.timeout_ms),
        ns_from_ms(scenario.receiver.clock_tick_ms),
    )
    return scaled((timeout_ns // tick_ns + 1) * tick_ns if tick_ns else timeout_ns, ppb)


def soonest_over_ns(scenario: Scenario, failsafe: Failsafe, ppb: int) -> int:
    """How long after a feed it does at the soonest, ns: that long it is not over yet."""
    timeout_ns, tick_ns = (
        ns_from_ms(failsafe.timeout_ms),
        ns_from_ms(scenario.receiver.clock_tick_ms),
    )
    return scaled(timeout_ns // tick_ns * tick_ns if tick_ns else timeout_ns, ppb)


def with_slowest_clock(scenario: Scenario) -> Scenario:
    """The scenario with the slowest receiver that its clock allows: its plan has the longest
    pass."""
    slow_ppm = clock_width_ppb(scenario) / 1000
    receiver = msgspec.structs.replace(scenario.receiver, clock_ppm=slow_ppm)
    return msgspec.structs.replace(scenario, receiver=receiver)


def clock_width_ppb(scenario: Scenario) -> int:
    """How slow the receiver's clock can be, parts in 10⁹ (rule T5)."""
    receiver = scenario.receiver
    if receiver.clock_ppm is not None:
        return round(receiver.clock_ppm * 1000)
    return CLOCK_PPB[receiver.clock]


def _output_terms(output: Output, slow_ppb: int) -> list[Term]:
    """What the output adds: the wait for a pulse, and a pulse; nothing for pwm and pin."""
    terms = []
    if output.kind == "servo":
        shortest_us, longest_us = sorted(output.limit_us)
        if isinstance(output.on_failsafe, Preset):
            period_ns = scaled(pulse_period_ns(output), slow_ppb)
            asked_us = output.on_failsafe.preset_us or longest_us
            preset_us = min(max(asked_us, shortest_us), longest_us)
            terms.append(Term(name="wait for the next pulse", ns=period_ns))
            terms.append(Term(name="pulse", ns=round(preset_us * NS_PER_US)))
        else:
            terms.append(Term(name="pulse under way", ns=round(longest_us * NS_PER_US)))
    if output.on_failsafe == "off" and output.motor is not None:
        loss_ns = ns_from_ms(output.motor.signal_loss_ms)
        terms.append(Term(name="controller's signal loss", ns=loss_ns))
    return terms


def reachable_worst_ns(
    plan: Plan, bound: Bound, timeout_ns: int, *, fed_at_arrival: bool = False
) -> int:
    """The worst that equal passes can reach, ns: a polled pass looks, and feeds, at its start (F6).

    `timeout_ns`: `latest_over_ns`. A timer that is fed between passes can be seen to run out a
    whole pass late: then it is the bound itself. ValueError if the output has no bound.
    """
    if bound.total_ns is None:
        raise ValueError(f"no reachable worst without a bound: {bound.why_none}")
    if plan.rx.interrupt or fed_at_arrival:
        return bound.total_ns
    pass_ns = longest_pass_ns(plan)
    assert pass_ns is not None, "a bound has a longest pass"
    # With ticks it is over at that very instant, without them just after it.
    passes = -(-timeout_ns // pass_ns) if plan.rx.tick_ns else timeout_ns // pass_ns + 1
    looked_ns = passes * pass_ns
    timeout_and_pass = sum(t.ns for t in bound.terms if t.name in {TIMEOUT, TICK, PASS})
    return bound.total_ns - timeout_and_pass + looked_ns
