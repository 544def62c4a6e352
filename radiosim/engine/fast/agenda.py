"""What is due when: one number a slot, so that the earliest event is a plain minimum.

A number is the instant times 64 plus the slot: of two things at one instant the lower slot is
the smaller number (rule T4), and no two numbers are equal.
"""

from radiosim.engine.fast.compiled import part
from radiosim.engine.fast.records import World
from radiosim.engine.order import slots

SLOT_BITS = 6
NEVER = 1 << 62


@part
def set_due(w: World, slot: int, at_ns: int) -> None:
    """Something is due; what would come after the end of the run never does."""
    w.due[slot] = (at_ns << SLOT_BITS) | slot if at_ns < w.until_ns else NEVER


@part
def clear_due(w: World, slot: int) -> None:
    """Nothing is due in a slot."""
    w.due[slot] = NEVER


@part
def is_due(w: World, slot: int) -> bool:
    """Whether something is."""
    return w.due[slot] != NEVER


@part
def first_due(w: World) -> int:
    """The smallest number; NEVER if nothing is due any more."""
    a = b = c = d = NEVER
    for slot in range(0, slots(w.n), 4):
        a = min(a, w.due[slot])
        b = min(b, w.due[slot + 1])
        c = min(c, w.due[slot + 2])
        d = min(d, w.due[slot + 3])
    return min(a, b, c, d)
