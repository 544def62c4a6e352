"""What one output does with its commands (rules F4 and G): pulse by pulse, or as written."""

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

from radiosim.engine.rules.timing import grid_point
from radiosim.engine.timeline import FOREVER_NS
from radiosim.marks import rule
from radiosim.signals.course import Points
from radiosim.units import NS_PER_US
from radiosim.vehicle.fold.program_state import (
    FAILSAFE,
    LEFT,
    STARTED,
    STOPPED,
    WRITTEN,
    EventRecord,
    ToldPass,
    WalkState,
    WalkStep,
    passes_before,
)
from radiosim.vehicle.fold.values import (
    PartState,
    Scale,
    ServoState,
    angle_of,
    follow_pulse,
    level_of,
    mixed,
    oldest_ns,
    pointed,
    turn,
)

NOTHING = -1
"""Frame of what carries none."""
HOLD, OFF, PRESET = range(3)
"""What an output does on failsafe."""


class Command:
    """The commands to an output, one a change."""

    at_ns: int
    kind: int
    """STARTED, STOPPED, WRITTEN or FAILSAFE."""
    level: float
    """NaN: no pulses, or the pin released."""
    frame: int
    """The frame that it carries; −1: none."""
    sampled_ns: int
    """When that frame was sampled."""
    values_ns: int
    """When the oldest of the values it carries was taken."""
    is_live: int
    """Whether the output follows the hand: not start-up, not failsafe."""


class EffectRecord:
    """What is in effect, one a pulse or a write."""

    start_ns: int
    """Start of the pulse; the write itself for an output without pulses."""
    end_ns: int
    """From when it is in effect."""
    stop_ns: int
    """When the pin floats next, or the run ends."""
    entry: int
    """What was told last, counted from 0."""
    level: float
    frame: int
    sampled_ns: int
    values_ns: int
    is_live: int
    is_fresh: int
    """Whether the effect carries a newer frame than all before (rule G3)."""
    angle: float
    """Where the servo stands, degrees; NaN: it has had no pulse, or there is none."""
    wanted: float
    """Where the hand points then, as an angle; NaN: it is not followed, or there is no servo."""


class OutputState:
    """One output: what it was told last, its pulses, its servo."""

    stream: int
    has_pulses: int
    scale: Scale
    period_ns: int
    phase_ns: int
    ppb: int
    start_level: float
    on_failsafe: int
    preset_level: float
    step_ns: float
    """Most that a pulse changes in a pass; 0: at once (rule G2)."""
    entries: int
    """How often it was told anything."""
    last: Command
    """What it was told last."""
    newest: int
    """The newest frame that was in effect."""
    based_ns: int
    tick: int
    pulse_ns: int
    """Start of the next pulse."""
    stop_ns: int
    taken_stops: int
    reached: float
    """Level reached when the last command came, for an output with smoothing."""
    passes_told: int
    """Passes before the last command."""
    walk: WalkState
    servo: ServoState
    taken: int
    """Number of the events at hand that are taken."""
    told: int
    """Entries made by the last call."""
    effects: int
    """Effects made by the last call."""


class CommandInputs(NamedTuple):
    """The events at hand, and what one output makes of them."""

    events: Sequence[EventRecord]
    parts: Sequence[PartState]
    """The fields that it follows."""
    points: Points
    stops_ns: Sequence[int]
    """When pins float, all of the run; its end last."""
    passes: Sequence[ToldPass]
    """Passes, for an output with smoothing."""
    steps: Sequence[WalkStep]
    until_ns: int
    """No event before this instant is still to come."""


Entries = Any
Effects = Any
"""Room for records."""


@rule
def approached(level: float, target: float, most: float) -> float:
    """`level` moved towards `target` by at most `most`."""
    if target > level:
        return min(level + most, target)
    return max(level - most, target)


@rule
def move_servo(o: OutputState, c: CommandInputs, effect: EffectRecord) -> None:
    """Where the servo stands as a pulse ends, and where it should (rule G4)."""
    has_pulse = not math.isnan(effect.level)
    if has_pulse:
        follow_pulse(o.servo, effect.end_ns, angle_of(o.servo, effect.level / NS_PER_US))
    elif o.servo.is_placed == 1:
        turn(o.servo, effect.end_ns)
    if o.servo.is_placed == 1:
        effect.angle = o.servo.angle
    if has_pulse and effect.is_live == 1:
        pulse_ns = level_of(o.scale, pointed(c.parts, c.points, effect.end_ns))
        effect.wanted = angle_of(o.servo, pulse_ns / NS_PER_US)


@rule
def carry_on(o: OutputState, effect: EffectRecord) -> None:
    """What is in effect carries what was told last."""
    last = o.last
    effect.entry = o.entries - 1
    effect.frame = last.frame
    effect.sampled_ns = last.sampled_ns
    effect.values_ns = last.values_ns
    effect.is_live = last.is_live
    effect.is_fresh = 0
    if last.is_live == 1 and last.frame > o.newest:
        o.newest = last.frame
        effect.is_fresh = 1
    effect.angle = effect.wanted = math.nan


@rule
def tell_effect(
    o: OutputState, c: CommandInputs, x: Effects, start_ns: int, end_ns: int, level: float
) -> None:
    """Write down what is in effect from `end_ns` on."""
    effect = x[o.effects]
    o.effects += 1
    effect.start_ns = start_ns
    effect.end_ns = end_ns
    effect.stop_ns = o.stop_ns
    effect.level = level
    carry_on(o, effect)
    if o.servo.exists == 1:
        move_servo(o, c, effect)


@rule
def width_at(o: OutputState, c: CommandInputs, at_ns: int) -> float:
    """Level of a pulse that starts at an instant."""
    level = o.last.level
    if o.step_ns == 0 or math.isnan(level) or o.reached == level:
        return level
    passes = passes_before(o.walk, c.passes, c.steps, at_ns + 1) - o.passes_told
    return float(round(approached(o.reached, level, passes * o.step_ns)))


@rule
def pulse(o: OutputState, c: CommandInputs, x: Effects) -> None:
    """The next pulse, if the pin is not left floating before it ends."""
    start_ns = o.pulse_ns
    level = width_at(o, c, start_ns)
    end_ns = start_ns if math.isnan(level) else start_ns + int(level)
    if end_ns < o.stop_ns:
        tell_effect(o, c, x, start_ns, end_ns, level)
    o.tick += 1
    o.pulse_ns = o.based_ns + grid_point(o.tick, o.period_ns, o.ppb)


@rule
def pulse_until(o: OutputState, c: CommandInputs, x: Effects, at_ns: int) -> bool:
    """Every pulse that starts before an instant; false: no more room."""
    while o.pulse_ns < at_ns:
        if o.effects >= len(x):
            return False
        pulse(o, c, x)
    return True


@rule
def move_on(o: OutputState, c: CommandInputs, event: EventRecord, level: float) -> None:
    """With smoothing: how far the level has come as something else is commanded."""
    last = o.last
    passes = passes_before(o.walk, c.passes, c.steps, event.at_ns)
    if not math.isnan(o.reached):
        most_ns = (passes - o.passes_told) * o.step_ns
        o.reached = approached(o.reached, last.level, most_ns)
    o.passes_told = passes
    is_approached = event.kind == WRITTEN or (event.kind == FAILSAFE and o.on_failsafe == HOLD)
    if not is_approached or math.isnan(o.reached):
        o.reached = level


@rule
def failsafe_level(o: OutputState) -> float:
    """Level on failsafe; NaN: no pulses, or the pin released (rule F4)."""
    if o.on_failsafe == HOLD:
        return o.last.level
    return o.preset_level if o.on_failsafe == PRESET else math.nan


@rule
def level_told(o: OutputState, c: CommandInputs, event: EventRecord) -> float:
    """The level that an event asks for."""
    if event.kind == WRITTEN:
        return level_of(o.scale, mixed(c.parts, c.points, event.values_frame, event.values_ns))
    if event.kind == STARTED:
        return o.start_level
    return failsafe_level(o) if event.kind == FAILSAFE else math.nan


@rule
def carry(o: OutputState, c: CommandInputs, event: EventRecord, level: float) -> None:
    """From now on it is at a level, with what the event brings."""
    last = o.last
    last.at_ns = event.at_ns
    last.kind = event.kind
    last.level = level
    last.is_live = 1 if event.kind == WRITTEN else 0
    if event.kind == WRITTEN:
        last.frame = event.frame
        last.sampled_ns = event.sampled_ns
        last.values_ns = oldest_ns(c.parts, event.values_ns)
    elif event.kind != FAILSAFE:
        last.frame = NOTHING
        last.sampled_ns = last.values_ns = 0
    o.entries += 1


@rule
def be_told(o: OutputState, c: CommandInputs, event: EventRecord) -> None:
    """Something else is to be done; failsafe goes on carrying what was carried."""
    level = level_told(o, c, event)
    if o.step_ns > 0:
        move_on(o, c, event, level)
    carry(o, c, event, level)


@rule
def tell_entry(o: OutputState, t: Entries) -> None:
    """Write down what was told."""
    entry, last = t[o.told], o.last
    o.told += 1
    entry.at_ns = last.at_ns
    entry.kind = last.kind
    entry.level = last.level
    entry.frame = last.frame
    entry.sampled_ns = last.sampled_ns
    entry.values_ns = last.values_ns
    entry.is_live = last.is_live


@rule
def run_pin(o: OutputState, c: CommandInputs, event: EventRecord) -> None:
    """The program's timer starts or stops with it (rule G1)."""
    while c.stops_ns[o.taken_stops] <= event.at_ns and o.taken_stops + 1 < len(c.stops_ns):
        o.taken_stops += 1
    o.stop_ns = c.stops_ns[o.taken_stops]
    if event.kind == STOPPED or o.has_pulses == 0:
        o.pulse_ns = FOREVER_NS
    elif event.kind == STARTED:
        o.tick = 0
        o.based_ns = o.pulse_ns = event.at_ns + o.phase_ns


def fold_output(o: OutputState, c: CommandInputs, t: Entries, x: Effects) -> bool:
    """Take all events at hand; false: no more room, it must be called again."""
    o.told = o.effects = 0
    while o.taken < len(c.events):
        event = c.events[o.taken]
        if event.stream == o.stream and event.kind != LEFT:
            if not pulse_until(o, c, x, event.at_ns) or o.told >= len(t) or o.effects >= len(x):
                return False
            be_told(o, c, event)
            tell_entry(o, t)
            run_pin(o, c, event)
            if o.has_pulses == 0:
                tell_effect(o, c, x, event.at_ns, event.at_ns, o.last.level)
        o.taken += 1
    if not pulse_until(o, c, x, c.until_ns):
        return False
    if o.step_ns > 0:
        # Its passes must not pile up while nothing is commanded.
        passes_before(o.walk, c.passes, c.steps, c.until_ns)
    o.taken = 0
    return True
