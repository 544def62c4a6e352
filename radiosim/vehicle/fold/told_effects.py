"""What one output does with levels that a receiver's own program has told it (rule G)."""

from collections.abc import Sequence

from radiosim.vehicle.fold.output_effects import (
    CommandInputs,
    Effects,
    Entries,
    OutputState,
    carry,
    pulse_until,
    run_pin,
    tell_effect,
    tell_entry,
)


def fold_told(
    o: OutputState, c: CommandInputs, levels: Sequence[float], t: Entries, x: Effects
) -> bool:
    """Take all events at hand, each with its level; false: no more room, it must be called again.

    All events are the output's own, and none is LEFT.
    """
    o.told = o.effects = 0
    while o.taken < len(c.events):
        event = c.events[o.taken]
        if not pulse_until(o, c, x, event.at_ns) or o.told >= len(t) or o.effects >= len(x):
            return False
        carry(o, c, event, levels[o.taken])
        tell_entry(o, t)
        run_pin(o, c, event)
        if o.has_pulses == 0:
            tell_effect(o, c, x, event.at_ns, event.at_ns, o.last.level)
        o.taken += 1
    if not pulse_until(o, c, x, c.until_ns):
        return False
    o.taken = 0
    return True
