"""Stops and boots of a receiver: a pass more or less decides what is read there, and what follows.

A chip's passes are not those of the model to the nanosecond, and neither is its watchdog. A frame
that comes within a pass of a stop is read before it or after it, and what the FIFO holds meanwhile
may be one frame more or less. Neither is wrong.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import (
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    RADIO_STARTS,
    RADIO_STOPS,
)
from radiosim.engine.timeline import FOREVER_NS
from radiosim.firmware.compare import NOT_READ, Compared, ReadElsewhere, Span

_ENDS = (PROGRAM_STOPS, PROGRAM_PAUSES, RADIO_STOPS)
_BEGINS = (PROGRAM_STARTS, PROGRAM_RESUMES, RADIO_STARTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Down:
    """A time in which program or radio of the receiver is down."""

    from_ns: int
    until_ns: int
    """FOREVER_NS: for good."""
    is_bitten: bool = False
    """A watchdog ended it: its own oscillator and the last pass before decide when."""


def downs_of(plan: Plan) -> tuple[Down, ...]:
    """Each of them, the boot at power-on first."""
    found = [Down(from_ns=0, until_ns=FOREVER_NS)]
    is_paused = False
    for step in plan.steps:
        if step.unit != len(plan.tx):
            continue
        if step.kind in _BEGINS:
            is_bitten = is_paused and step.kind == PROGRAM_STARTS
            found[-1] = replace(found[-1], until_ns=step.at_ns, is_bitten=is_bitten)
        elif step.kind in _ENDS and found[-1].until_ns != FOREVER_NS:
            found.append(Down(from_ns=step.at_ns, until_ns=FOREVER_NS))
            is_paused = step.kind == PROGRAM_PAUSES
    return tuple(found)


def undecided(
    downs: Sequence[Down], reads: Sequence[ReadElsewhere], within_ns: int
) -> tuple[Down, ...]:
    """Those at whose ends a read stands that a pass more or less decides, or a watchdog all."""

    def is_near(read: ReadElsewhere, at_ns: int) -> bool:
        instants = (read.accepted_ns, read.predicted_ns, read.real_ns)
        return any(ns != NOT_READ and abs(ns - at_ns) <= within_ns for ns in instants)

    return tuple(
        down
        for down in downs
        if down.is_bitten
        or any(is_near(read, down.from_ns) or is_near(read, down.until_ns) for read in reads)
    )


def is_open(read: ReadElsewhere, downs: Sequence[Down], within_ns: int) -> bool:
    """Whether a frame that was read elsewhere came in one of some undecided times."""
    return any(
        down.from_ns - within_ns <= read.accepted_ns <= down.until_ns + within_ns for down in downs
    )


def without_open(one: Compared, downs: Sequence[Down], late_ns: int) -> Compared:
    """The same, its spans that an undecided time explains among the short ones.

    `late_ns`: how long after its end an output may wait for one frame more.
    """

    def is_explained(span: Span) -> bool:
        return any(
            down.from_ns - late_ns <= span.from_ns and span.until_ns <= down.until_ns + late_ns
            for down in downs
        )

    explained = [span for span in one.spans if is_explained(span)]
    if not explained:
        return one
    return replace(
        one,
        spans=tuple(span for span in one.spans if span not in explained),
        short=one.short + len(explained),
        longest_short_ns=max(one.longest_short_ns, *(span.length_ns for span in explained)),
    )
