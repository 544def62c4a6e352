"""Figures of the outputs of one start."""

import math
from collections.abc import Sequence

from radiosim.engine.jit import JitBackend, Record
from radiosim.engine.plan import Plan
from radiosim.marks import rule
from radiosim.measure.histogram import (
    COUNTS,
    Ramps,
    Spread,
    add_ramp,
    add_span,
    close_ramps,
    of_ramps,
    of_spread,
)
from radiosim.measure.of_stream import up_of
from radiosim.measure.tally import OutputTally
from radiosim.registers.figure_register import MICRODEGREES
from radiosim.scenario.structs.output_table import Output
from radiosim.trace import is_noise
from radiosim.vehicle.fold.output_effects import EffectRecord
from radiosim.vehicle.output_fold import OutputLog

NEVER = -1


class OutputFiguresState:
    """What one output has come to."""

    fresh: int
    latency: Spread
    age: Ramps
    error: Spread
    """Between hand and servo, millionths of a degree."""
    is_ageing: int
    """A value of the hand is in effect; what follows is of it."""
    first_age_ns: int
    values_ns: int
    stop_ns: int
    """When the pin floats, if nothing else comes first."""
    held_ns: int
    """From when on a fresh value has been in effect without change; −1: none is."""
    longest_hold_ns: int
    """−1: there was none."""


@rule
def end_ageing(f: OutputFiguresState, until_ns: int) -> None:
    """The value in effect stays no longer."""
    if f.is_ageing == 1:
        add_ramp(f.age, f.first_age_ns, until_ns - f.values_ns)
    f.is_ageing = 0


@rule
def age(f: OutputFiguresState, effect: EffectRecord, is_live: bool) -> None:
    """One value follows another; the same values go on ageing."""
    until_ns = min(effect.end_ns, f.stop_ns)
    if f.is_ageing == 1 and is_live and effect.values_ns == f.values_ns and until_ns < f.stop_ns:
        f.age.n += 1
        return
    end_ageing(f, until_ns)
    if is_live:
        f.is_ageing = 1
        f.values_ns = effect.values_ns
        f.first_age_ns = effect.end_ns - effect.values_ns


@rule
def end_hold(f: OutputFiguresState, until_ns: int) -> None:
    """What was held since it was fresh has changed, at a later instant than that."""
    if f.held_ns != NEVER and until_ns > f.held_ns:
        f.longest_hold_ns = max(f.longest_hold_ns, until_ns - f.held_ns)
        f.held_ns = NEVER


@rule
def take_effect(f: OutputFiguresState, effect: EffectRecord) -> None:
    """Something else is in effect; what noise says is no value of the hand, and has no age."""
    is_live = effect.is_live == 1 and not math.isnan(effect.level) and not is_noise(effect.frame)
    age(f, effect, is_live)
    if f.stop_ns <= effect.end_ns or effect.is_fresh == 1 or not is_live:
        end_hold(f, min(effect.end_ns, f.stop_ns))
    f.stop_ns = effect.stop_ns
    if not math.isnan(effect.wanted):
        add_span(f.error, abs(effect.wanted - effect.angle) * MICRODEGREES)
    if effect.is_fresh == 1:
        f.fresh += 1
        add_span(f.latency, effect.end_ns - effect.sampled_ns)
        if f.held_ns == NEVER:
            f.held_ns = effect.end_ns


def fold_effects(f: OutputFiguresState, effects: Sequence[EffectRecord]) -> None:
    """Take some more effects, in order."""
    for i in range(len(effects)):
        take_effect(f, effects[i])


def fold_end(f: OutputFiguresState, until_ns: int) -> None:
    """No more effects come."""
    end_ageing(f, min(until_ns, f.stop_ns))
    end_hold(f, min(until_ns, f.stop_ns))
    close_ramps(f.age)


class OutputFigures:
    """What one output adds to the figures, folded over its deeds; exact, but quantiles."""

    def __init__(
        self, plan: Plan, output: Output, backend: JitBackend, state: Record | None = None
    ) -> None:
        """`state`: an OutputFiguresState, all zero, if there is room for one elsewhere."""
        self.plan, self._output, self._machine = plan, output, backend
        self._state = backend.record(OutputFiguresState, COUNTS) if state is None else state
        backend.set(self._state, held_ns=NEVER, longest_hold_ns=NEVER)
        self._fold = backend.entry(fold_effects)
        self._end = backend.entry(fold_end)

    def take(self, output_log: OutputLog) -> None:
        """Some more deeds."""
        self._fold(self._state, output_log.rows)

    def finish(self) -> None:
        """No more deeds come."""
        self._end(self._state, self.plan.until_ns)

    def tally(self) -> OutputTally:
        """What one output adds to the figures, after the last deed."""
        backend, state, output = self._machine, self._state, self._output
        longest_ns = int(backend.get(state, "longest_hold_ns"))
        has_servo = output.servo is not None
        return OutputTally(
            stream=output.stream,
            refresh_hz=output.refresh_hz if output.kind == "servo" else None,
            fresh=int(backend.get(state, "fresh")),
            up_ns=up_of(self.plan, self.plan.streams.index(output.stream)),
            longest_hold_ns=None if longest_ns == NEVER else longest_ns,
            latency=of_spread(backend.get(state, "latency"), backend),
            age=of_ramps(backend.get(state, "age"), backend),
            servo_error=of_spread(backend.get(state, "error"), backend) if has_servo else None,
        )
