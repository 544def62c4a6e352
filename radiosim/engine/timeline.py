"""Faults and boots as elementary steps (rules A5 and E3).

Nothing that a fault does depends on the traffic, so what each unit goes through is worked out
before a start is simulated; engines and folds then only carry out steps.
"""

import heapq
from collections import defaultdict
from collections.abc import Callable, Sequence
from functools import lru_cache, partial
from typing import Literal

import msgspec

from radiosim.engine.plan_rows import (
    COMES_BACK,
    FIFO_EMPTIED,
    GOES_AWAY,
    JAM_BEGINS,
    JAM_ENDS,
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    RADIO_STARTS,
    RADIO_STOPS,
    VALUES_FRESH,
    VALUES_STALE,
    Step,
)
from radiosim.engine.rules.timing import point_after
from radiosim.registers.fault_kind import FaultKind, Happening
from radiosim.registers.fault_register import fault_kind

FOREVER_NS = 1 << 62
_OFF, _HELD, _BOOTING, _RUNNING, _HUNG, _HUNG_IN_BOOT = range(6)
ANY_ERA = -1
_State = Literal["no power", "low voltage", "hung", "old values", "out of range", "jammed"]
_NEVER_NS = -1


class UnitTimes(msgspec.Struct, frozen=True, kw_only=True):
    """How one unit boots and recovers, ns by its own clock."""

    unit: int
    on_ns: int
    """When it is first switched on; FOREVER_NS: never, as the air."""
    cold_boot_ns: int
    """Power-on until its program runs and its radio listens."""
    warm_boot_ns: int
    """Boot time of the program alone after a reset."""
    radio_start_ns: int
    """Radio alone, from power-down to ready."""
    watchdog_ns: int = 0
    recheck_ns: int = 0
    ppb: int = 0
    radio_survives: bool = True
    empties_fifo: bool = False
    power_boot_ns: int | None = None
    """Boot time of the program alone after power-on; None: as after a reset."""

    @property
    def program_boot_ns(self) -> int:
        """Boot time of the program alone after power-on."""
        return self.warm_boot_ns if self.power_boot_ns is None else self.power_boot_ns

    @property
    def warm_start_ns(self) -> int:
        """Reset that takes the radio along, until program and radio are up."""
        return self.cold_boot_ns - self.program_boot_ns + self.warm_boot_ns


class FaultSpan(msgspec.Struct, frozen=True, kw_only=True):
    """One fault of the scenario, in ns; `until_ns` is FOREVER_NS for good."""

    at_ns: int
    until_ns: int
    kind: str


class FaultEnd(msgspec.Struct, frozen=True, kw_only=True):
    """When a fault let go of its unit, boot apart."""

    at_ns: int
    """FOREVER_NS: nothing ends it."""
    is_bitten: bool = False
    """A watchdog ended it."""


class _Unit(msgspec.Struct):
    """A unit on its way through its faults; the events still to come stand in `agenda`.

    A state lasts until the last of the faults that hold the unit in it ends, whatever their kinds.
    """

    times: UnitTimes
    until_ns: int
    steps: list[Step] = msgspec.field(default_factory=list)
    agenda: list[tuple[int, int, Callable[[int], None], int]] = msgspec.field(default_factory=list)
    program: int = _OFF
    was_on: bool = False
    radio_on: bool = False
    stale: bool = False
    based_ns: int = 0
    era: int = 0
    """Goes up whenever what was planned before (boot, watchdog) is void."""
    holders: defaultdict[_State, set[int]] = msgspec.field(default_factory=lambda: defaultdict(set))
    """Numbers of the faults that hold it in a state; what ends a fault takes it out."""
    acting: int = 0
    """Number of the fault that begins or ends."""
    ends: dict[int, FaultEnd] = msgspec.field(default_factory=dict)
    """By number of a fault that held it in a state and no longer does."""
    cold_until_ns: int = 0
    """When the last power-on of the radio is over; a reset does not cut it short."""
    is_held_cold: bool = False
    """The supply was too low as it was switched on: its first boot is still to come."""
    booted_ns: int = 0
    """When the boot under way is over."""
    hung_ns: int = 0
    look_ns: int = _NEVER_NS
    """When the program is to look at a radio that lost its settings."""
    planned: int = 0
    """Breaks ties of the agenda in the order of planning."""

    def plan(self, at_ns: int, what: Callable[[int], None], *, era: int = ANY_ERA) -> None:
        if at_ns < self.until_ns:
            heapq.heappush(self.agenda, (at_ns, self.planned, what, era))
            self.planned += 1

    def plan_fault(self, number: int, kind: FaultKind, span: FaultSpan) -> None:
        def happen(what: Happening, at_ns: int) -> None:
            self.acting = number
            what(self, at_ns)

        self.plan(span.at_ns, partial(happen, kind.begins))
        if kind.ends is not None:
            self.plan(span.until_ns, partial(happen, kind.ends))

    def hold(self, state: _State) -> None:
        """The fault that begins holds it in a state."""
        self.holders[state].add(self.acting)

    def is_let_go(self, state: _State, at_ns: int) -> bool:
        """Whether the fault that ends held it in a state, and no other does."""
        holders = self.holders[state]
        if self.acting not in holders:
            return False
        holders.discard(self.acting)
        self.ends[self.acting] = FaultEnd(at_ns=at_ns)
        return not holders

    def let_go(self, state: _State, at_ns: int, *, is_bitten: bool = False) -> None:
        """Nothing holds it in a state any more, be the faults over or not."""
        for number in self.holders.pop(state, ()):
            self.ends[number] = FaultEnd(at_ns=at_ns, is_bitten=is_bitten)

    def step(self, at_ns: int, kind: int) -> None:
        self.steps.append(Step(at_ns, self.times.unit, kind))

    def run(self) -> None:
        while self.agenda:
            at_ns, _, what, era = heapq.heappop(self.agenda)
            if era in (ANY_ERA, self.era):
                what(at_ns)

    def stop_program(self, at_ns: int, then: int) -> None:
        if self.program in (_RUNNING, _HUNG):
            self.step(at_ns, PROGRAM_STOPS)
        self.era += 1
        self.let_go("hung", at_ns)
        self.program = then

    def stop_radio(self, at_ns: int) -> None:
        if self.radio_on:
            self.step(at_ns, RADIO_STOPS)
        self.radio_on = False

    def boot(self, at_ns: int) -> None:
        """The program starts again; a radio that does not survive starts with it."""
        is_cold, self.is_held_cold = self.is_held_cold, False
        self.stop_program(at_ns, _BOOTING)
        if not self.times.radio_survives:
            self.stop_radio(at_ns)
            self.boot_both(at_ns, is_cold=is_cold)
            return
        boot_ns = self.times.program_boot_ns if is_cold else self.times.warm_boot_ns
        self.plan_boot(max(at_ns + boot_ns, self.cold_until_ns))

    def boot_both(self, at_ns: int, *, is_cold: bool) -> None:
        """Program and radio start together; another reset may make the program's part shorter."""
        self.cold_until_ns = at_ns + self.times.warm_start_ns
        self.plan_boot(at_ns + self.times.cold_boot_ns if is_cold else self.cold_until_ns)

    def plan_boot(self, at_ns: int) -> None:
        self.booted_ns = at_ns
        self.plan(at_ns, self.finish_boot, era=self.era)

    def power_on(self, at_ns: int) -> None:
        if self.program != _OFF:
            return
        self.let_go("no power", at_ns)
        self.was_on = True
        self.era += 1
        self.is_held_cold = bool(self.holders["low voltage"])
        if self.is_held_cold:
            self.program, self.cold_until_ns = _HELD, at_ns + self.times.cold_boot_ns
        else:
            self.program = _BOOTING
            self.boot_both(at_ns, is_cold=True)

    def power_off(self, at_ns: int) -> None:
        # A unit that was not switched on yet has nothing to lose; so below.
        if self.was_on:
            self.hold("no power")
            self.stop_program(at_ns, _OFF)
            self.stop_radio(at_ns)

    def restore_power(self, at_ns: int) -> None:
        if self.is_let_go("no power", at_ns):
            self.power_on(at_ns)

    def finish_boot(self, at_ns: int) -> None:
        # Every boot sets the radio up, so one that lost its settings comes back here too.
        if not self.radio_on:
            self.step(at_ns, RADIO_STARTS)
            self.radio_on = True
        elif self.times.empties_fifo:
            self.step(at_ns, FIFO_EMPTIED)
        self.renew_values(at_ns)
        self.look_ns = _NEVER_NS
        self.step(at_ns, PROGRAM_STARTS)
        self.program, self.based_ns = _RUNNING, at_ns

    def reset(self, at_ns: int) -> None:
        if self.program in (_RUNNING, _HUNG, _BOOTING, _HUNG_IN_BOOT):
            self.boot(at_ns)

    def hold_in_reset(self, at_ns: int) -> None:
        if self.was_on:
            self.hold("low voltage")
        if self.program not in (_OFF, _HELD):
            self.stop_program(at_ns, _HELD)
            if not self.times.radio_survives:
                self.stop_radio(at_ns)

    def release(self, at_ns: int) -> None:
        if self.is_let_go("low voltage", at_ns) and self.program == _HELD:
            self.boot(at_ns)

    def hang(self, at_ns: int) -> None:
        if self.program in (_OFF, _HELD):
            return
        self.hold("hung")
        if self.program == _RUNNING:
            self.step(at_ns, PROGRAM_PAUSES)
            self.program = _HUNG
        elif self.program == _BOOTING:
            self.era += 1
            self.program = _HUNG_IN_BOOT
        else:
            return
        self.hung_ns = at_ns
        if self.times.watchdog_ns:
            self.plan(at_ns + self.times.watchdog_ns, self.bite, era=self.era)

    def bite(self, at_ns: int) -> None:
        """The watchdog resets a program that hangs."""
        self.let_go("hung", at_ns, is_bitten=True)
        self.boot(at_ns)

    def go_on(self, at_ns: int) -> None:
        if not self.is_let_go("hung", at_ns):
            return
        if self.program == _HUNG:
            self.step(at_ns, PROGRAM_RESUMES)
            self.program = _RUNNING
            self.era += 1
            if _NEVER_NS < self.look_ns < at_ns:
                # The look that it missed; the next may fall due at this very instant.
                self.plan_recheck(at_ns - 1)
        elif self.program == _HUNG_IN_BOOT:
            self.program = _BOOTING
            self.era += 1
            self.plan_boot(self.booted_ns + at_ns - self.hung_ns)

    def lose_settings(self, at_ns: int) -> None:
        if self.radio_on:
            self.stop_radio(at_ns)
            self.plan_recheck(at_ns)

    def plan_recheck(self, at_ns: int) -> None:
        if self.times.recheck_ns and self.program in (_RUNNING, _HUNG):
            since_ns = at_ns - self.based_ns
            due_ns = point_after(since_ns, self.times.recheck_ns, self.times.ppb)
            self.look_ns = self.based_ns + due_ns
            self.plan(self.look_ns, self.recheck)

    def recheck(self, at_ns: int) -> None:
        # A program that hangs looks when it goes on; one that has booted since has another grid.
        if at_ns == self.look_ns and self.program == _RUNNING:
            self.look_ns = _NEVER_NS
            self.plan(at_ns + self.times.radio_start_ns, self.bring_radio_back)

    def bring_radio_back(self, at_ns: int) -> None:
        if not self.radio_on and self.program in (_RUNNING, _HUNG):
            self.step(at_ns, RADIO_STARTS)
            self.radio_on = True

    def freeze_values(self, at_ns: int) -> None:
        self.hold("old values")
        if not self.stale:
            self.step(at_ns, VALUES_STALE)
        self.stale = True

    def thaw_values(self, at_ns: int) -> None:
        if self.is_let_go("old values", at_ns):
            self.renew_values(at_ns)

    def renew_values(self, at_ns: int) -> None:
        self.let_go("old values", at_ns)
        if self.stale:
            self.step(at_ns, VALUES_FRESH)
        self.stale = False

    def leave(self, at_ns: int) -> None:
        if not self.holders["out of range"]:
            self.step(at_ns, GOES_AWAY)
        self.hold("out of range")

    def come_back(self, at_ns: int) -> None:
        if self.is_let_go("out of range", at_ns):
            self.step(at_ns, COMES_BACK)

    def jam(self, at_ns: int) -> None:
        if not self.holders["jammed"]:
            self.step(at_ns, JAM_BEGINS)
        self.hold("jammed")

    def clear(self, at_ns: int) -> None:
        if self.is_let_go("jammed", at_ns):
            self.step(at_ns, JAM_ENDS)


def steps_of(times: UnitTimes, fault_spans: Sequence[FaultSpan], until_ns: int) -> tuple[Step, ...]:
    """Every step of one unit, or of the air, before `until_ns`, in order of time."""
    return _steps_of(times, tuple(fault_spans), until_ns)


@lru_cache(4_096)
def _steps_of(
    times: UnitTimes, fault_spans: tuple[FaultSpan, ...], until_ns: int
) -> tuple[Step, ...]:
    # Points of a study take the same clocks again and again.
    return tuple(_gone_through(times, fault_spans, until_ns).steps)


def ends_of(times: UnitTimes, fault_spans: Sequence[FaultSpan]) -> tuple[FaultEnd, ...]:
    """When each fault of one unit, or of the air, lets go of it: its own end, or what ends it
    before.

    One that is over at once, or that found the unit unable to have it, ends as it begins.
    """
    unit = _gone_through(times, fault_spans, FOREVER_NS)
    still_held = {number for held in unit.holders.values() for number in held}
    return tuple(
        FaultEnd(at_ns=FOREVER_NS)
        if number in still_held
        else unit.ends.get(number, FaultEnd(at_ns=span.at_ns))
        for number, span in enumerate(fault_spans)
    )


def _gone_through(times: UnitTimes, fault_spans: Sequence[FaultSpan], until_ns: int) -> _Unit:
    unit = _Unit(times, until_ns)
    unit.plan(times.on_ns, unit.power_on)
    for number, fault_span in enumerate(fault_spans):
        unit.plan_fault(number, fault_kind(fault_span.kind), fault_span)
    unit.run()
    return unit
