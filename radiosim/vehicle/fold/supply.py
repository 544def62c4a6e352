"""What outputs draw, and what becomes of the receiver's voltage (rules E4 and G5)."""

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

from radiosim.engine.timeline import FOREVER_NS
from radiosim.marks import rule
from radiosim.vehicle.fold.output_effects import EffectRecord
from radiosim.vehicle.fold.values import ServoState, angle_of, follow_pulse, turn

STANDS = 1e-9
"""Degrees, or part of the full value, that are no movement."""
NOWHEN = -1


class LoadChange:
    """From an instant on an output draws otherwise, by itself and for as long as said."""

    at_ns: int
    load: int
    """Number of the load among those of the supply."""
    starting_ma: float
    flowing_ma: float
    started_ns: int
    """Until when it draws `starting_ma`."""
    moved_ns: int
    """Until when it draws either; then what it draws at rest."""


class LoadState:
    """What one output makes its load do."""

    number: int
    rest_ma: float
    moving_ma: float
    start_ma: float
    start_ns: int
    servo: ServoState
    """It turns, if it exists; else the load runs by the level."""
    idle: float
    """Level at which it stands still."""
    span: float
    """The farthest that a level is from that."""
    loss_ns: int
    """How long it runs on without pulses."""
    share: float
    """How fast it runs: part of the full value, by its direction."""
    started_ns: int
    taken_stops: int
    told: int
    """Changes made by the last call."""


Changes = Any
"""Room for records."""


@rule
def tell_change(
    o: LoadState, changes: Changes, at_ns: int, starting_ma: float, flowing_ma: float, moved_ns: int
) -> None:
    """Write down that it draws otherwise from an instant on."""
    change = changes[o.told]
    o.told += 1
    change.at_ns = at_ns
    change.load = o.number
    change.starting_ma = starting_ma
    change.flowing_ma = flowing_ma
    change.started_ns = o.started_ns
    change.moved_ns = moved_ns


@rule
def way(degrees: float) -> int:
    """Which way a servo turns: 1, -1, or 0 where it stands."""
    if abs(degrees) < STANDS:
        return 0
    return 1 if degrees > 0 else -1


@rule
def turn_load(o: LoadState, changes: Changes, effect: EffectRecord) -> None:
    """A pulse ends at a servo: it draws while it turns, and most as it starts or turns round."""
    servo, now = o.servo, effect.end_ns
    if math.isnan(effect.level):
        return
    if servo.is_placed == 1:
        turn(servo, now)
    goal, before, was_placed = servo.goal, way(servo.goal - servo.angle), servo.is_placed
    follow_pulse(servo, now, angle_of(servo, effect.level / 1000))
    if was_placed == 0 or servo.goal == goal:
        return
    left = servo.goal - servo.angle
    if way(left) != 0 and way(left) != before:
        o.started_ns = now + o.start_ns
    moved_ns = now + math.ceil(abs(left) / servo.degrees_per_ns) if way(left) != 0 else now
    tell_change(o, changes, now, o.start_ma, o.moving_ma, moved_ns)


@rule
def run_load(o: LoadState, changes: Changes, effect: EffectRecord) -> None:
    """A level is in effect: what it draws goes with its distance from where it stands still."""
    now, share = effect.end_ns, 0.0
    if not math.isnan(effect.level):
        share = min(max((effect.level - o.idle) / o.span, -1.0), 1.0)
    if abs(share) < STANDS:
        share = 0.0
    if share == o.share:
        return
    if share != 0.0 and share * o.share <= 0.0:
        o.started_ns = now + o.start_ns
    moved_ns = FOREVER_NS if share != 0.0 else now
    of_full = abs(share)
    if math.isnan(effect.level):
        moved_ns, of_full = now + o.loss_ns, abs(o.share)
    starting_ma = o.rest_ma + of_full * (o.start_ma - o.rest_ma)
    flowing_ma = o.rest_ma + of_full * (o.moving_ma - o.rest_ma)
    tell_change(o, changes, now, starting_ma, flowing_ma, moved_ns)
    o.share = share


def fold_load(
    o: LoadState,
    effects: Sequence[EffectRecord],
    stops_ns: Sequence[int],
    changes: Changes,
) -> int:
    """Take more effects of one output; how many changes they make. `stops_ns`: when its pin
    floats, the end of the run last; there is room for a change an effect."""
    o.told = 0
    for k in range(len(effects)):
        effect = effects[k]
        while o.taken_stops + 1 < len(stops_ns) and stops_ns[o.taken_stops] <= effect.start_ns:
            o.taken_stops += 1
            o.share = 0.0
        if o.servo.exists == 1:
            turn_load(o, changes, effect)
        else:
            run_load(o, changes, effect)
    return o.told


class DrawState:
    """What one load draws."""

    rest_ma: float
    starting_ma: float
    flowing_ma: float
    started_ns: int
    moved_ns: int
    loss_ns: int
    """How long it runs on without pulses; NOWHEN: it ends its movement without them."""


class SupplyState:
    """The voltage at the receiver's board."""

    voltage_v: float
    volts_per_ma: float
    """Resistance of the supply."""
    tau_ns: float
    """Time constant of resistance and capacitor; 0: there is none."""
    brownout_v: float
    release_v: float
    board_ma: float
    loads: int
    load: Sequence[DrawState]
    at_ns: int
    """Of the last change of anything."""
    volts: float
    """Voltage at that instant."""
    is_armed: int
    """Whether a program runs that a dip can hold in reset."""
    taken_switches: int


class Switch(NamedTuple):
    """The receiver's program starts or stops."""

    at_ns: int
    starts: int


class Dip(NamedTuple):
    """A dip that holds the program in reset; at_ns NOWHEN: there was none."""

    at_ns: int
    until_ns: int
    outputs: int
    drawn_ma: float
    settles_v: float


@rule
def drawn_ma(load: DrawState, at_ns: int) -> float:
    """What a load draws at an instant."""
    if at_ns >= load.moved_ns:
        return load.rest_ma
    return load.starting_ma if at_ns < load.started_ns else load.flowing_ma


@rule
def all_drawn_ma(s: SupplyState, at_ns: int) -> float:
    """What board and loads draw at an instant."""
    total = s.board_ma
    for k in range(s.loads):
        total += drawn_ma(s.load[k], at_ns)
    return total


@rule
def next_of_loads(s: SupplyState, at_ns: int) -> int:
    """When a load next draws otherwise by itself; FOREVER_NS: never."""
    then_ns = FOREVER_NS
    for k in range(s.loads):
        load = s.load[k]
        if at_ns < load.started_ns < load.moved_ns:
            then_ns = min(then_ns, load.started_ns)
        elif at_ns < load.moved_ns:
            then_ns = min(then_ns, load.moved_ns)
    return then_ns


@rule
def volts_at(tau_ns: float, volts: float, settles_v: float, after_ns: int) -> float:
    """Voltage of a capacitor some time after it had `volts`, on its way to `settles_v`.

    V(t) = V' + (V - V')·e^(-t/RC): any handbook of circuits.
    """
    if tau_ns == 0.0:
        return settles_v
    return settles_v + (volts - settles_v) * math.exp(-after_ns / tau_ns)


@rule
def reaches_ns(tau_ns: float, volts: float, settles_v: float, level_v: float) -> int:
    """How long a voltage takes to a level between it and where it settles, whole ns; the same
    formula, solved for the time."""
    if tau_ns == 0.0:
        return 0
    return math.ceil(tau_ns * math.log((volts - settles_v) / (level_v - settles_v)))


@rule
def settles_at(s: SupplyState, at_ns: int) -> float:
    """Where the voltage settles with what is drawn at an instant: V - R·I."""
    return s.voltage_v - s.volts_per_ma * all_drawn_ma(s, at_ns)


@rule
def falls_ns(s: SupplyState) -> int:
    """When the voltage falls under the level, if nothing changes; an instant after what makes it
    fall, at the soonest."""
    settles_v = settles_at(s, s.at_ns)
    volts = settles_v if s.tau_ns == 0.0 else s.volts
    if volts < s.brownout_v:
        return s.at_ns + 1
    if settles_v >= s.brownout_v:
        return FOREVER_NS
    return s.at_ns + max(1, reaches_ns(s.tau_ns, volts, settles_v, s.brownout_v))


@rule
def go_to(s: SupplyState, at_ns: int) -> None:
    """On to the next change of anything."""
    settles_v = settles_at(s, s.at_ns)
    s.volts = volts_at(s.tau_ns, s.volts, settles_v, at_ns - s.at_ns)
    s.at_ns = at_ns


@rule
def let_pins_float(s: SupplyState) -> None:
    """The program stops: what runs by the level stops; a servo ends its movement (rule G4)."""
    for k in range(s.loads):
        load = s.load[k]
        if load.loss_ns != NOWHEN:
            load.moved_ns = min(load.moved_ns, s.at_ns + load.loss_ns)


@rule
def recovers_ns(s: SupplyState) -> int:
    """When the voltage has risen enough, its program stopped now."""
    let_pins_float(s)
    while True:
        settles_v, next_ns = settles_at(s, s.at_ns), next_of_loads(s, s.at_ns)
        volts = settles_v if s.tau_ns == 0.0 else s.volts
        if volts >= s.release_v:
            return s.at_ns
        if settles_v > s.release_v:
            up_ns = s.at_ns + reaches_ns(s.tau_ns, volts, settles_v, s.release_v)
            if up_ns < next_ns:
                return up_ns
        if next_ns == FOREVER_NS:
            return FOREVER_NS
        go_to(s, next_ns)


@rule
def dip(s: SupplyState, at_ns: int) -> Dip:
    """All of a dip that begins now."""
    total_ma, settles_v, outputs = all_drawn_ma(s, s.at_ns), settles_at(s, s.at_ns), 0
    for k in range(s.loads):
        if drawn_ma(s.load[k], s.at_ns) > s.load[k].rest_ma:
            outputs |= 1 << k
    go_to(s, at_ns)
    return Dip(at_ns, max(at_ns + 1, recovers_ns(s)), outputs, total_ma, settles_v)


@rule
def take_switch(s: SupplyState, switch: Switch) -> None:
    """The program starts or stops."""
    s.taken_switches += 1
    s.is_armed = switch.starts
    if switch.starts == 0:
        let_pins_float(s)


@rule
def take_change(s: SupplyState, change: LoadChange) -> None:
    """A load draws otherwise."""
    load = s.load[change.load]
    load.starting_ma = change.starting_ma
    load.flowing_ma = change.flowing_ma
    load.started_ns = change.started_ns
    load.moved_ns = change.moved_ns


def fold_supply(
    s: SupplyState,
    changes: Sequence[LoadChange],
    switches: Sequence[Switch],
    until_ns: int,
) -> Dip:
    """Take all changes up to an instant; the first dip that comes before it.

    Nothing is worked out at `until_ns` itself, so that voltages do not depend on how changes are
    cut.
    """
    taken = 0
    while True:
        next_ns = next_of_loads(s, s.at_ns)
        if s.taken_switches < len(switches):
            next_ns = min(next_ns, switches[s.taken_switches].at_ns)
        if taken < len(changes):
            next_ns = min(next_ns, changes[taken].at_ns)
        if s.is_armed == 1:
            at_ns = falls_ns(s)
            if at_ns < min(next_ns, until_ns):
                return dip(s, at_ns)
        if next_ns >= until_ns:
            return Dip(NOWHEN, NOWHEN, 0, 0.0, 0.0)
        go_to(s, next_ns)
        while s.taken_switches < len(switches) and switches[s.taken_switches].at_ns <= next_ns:
            take_switch(s, switches[s.taken_switches])
        while taken < len(changes) and changes[taken].at_ns <= next_ns:
            take_change(s, changes[taken])
            taken += 1
