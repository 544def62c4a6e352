"""Figures of one stream from a trace (rules G3 and H)."""

import numpy as np

from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import PROGRAM_STARTS
from radiosim.measure.accounting import (
    BUSY,
    CUT_BEFORE_SENDING,
    GONE_WITH_FIFO,
    IN_FIFO,
    IN_PROGRAM,
    NEVER_ACCEPTED,
    NO_ROOM,
    ON_ITS_WAY,
    OVERTAKEN,
    account,
)
from radiosim.measure.histogram import Histogram, Spans, histogram_of, histogram_of_ramps
from radiosim.measure.tally import FailsafeTally, StreamTally
from radiosim.trace import (
    ACKNOWLEDGED,
    CHANCE,
    COLLISION,
    CUT,
    DEAF,
    DUPLICATE,
    FATES,
    FULL,
    GIVEN_UP,
    KEPT,
    NEW,
    OFF,
    OUT_OF_RANGE,
    READ,
    TAKEN,
    Trace,
)
from radiosim.units import NS_PER_S
from radiosim.vehicle.program import StreamRecord


def tally_stream(
    trace: Trace, plan: Plan, stream: int, record: StreamRecord, has_failsafe: bool
) -> StreamTally:
    """What one stream adds to the figures."""
    attempts = trace.attempts[trace.attempts["stream"] == stream]
    frames = trace.frames[trace.frames["stream"] == stream]
    answers = trace.acknowledgements[trace.acknowledgements["stream"] == stream]
    reads = trace.reads[(trace.reads["stream"] == stream) & (trace.reads["outcome"] == READ)]
    fates = np.bincount(attempts["fate"], minlength=len(FATES))
    outcomes = np.bincount(frames["outcome"], minlength=KEPT + 1)
    placed = account(trace, stream)
    from_ns = opening_ns(trace, plan, stream)
    gaps = gaps_ns(reads["read_ns"], from_ns, trace.duration_ns)
    longest = int(gaps.argmax())
    nuisance = sum(not entry.is_true for entry in record.entries)
    return StreamTally(
        sampled=placed.sampled,
        skipped=placed.counts[BUSY],
        replaced=placed.counts[OVERTAKEN],
        queue_full=placed.counts[NO_ROOM],
        power_cut=placed.counts[CUT_BEFORE_SENDING],
        sent=int(np.count_nonzero(np.bincount(attempts["frame"]))),
        attempts=len(attempts),
        acknowledged=int(outcomes[ACKNOWLEDGED]),
        given_up=int(outcomes[GIVEN_UP] + outcomes[KEPT]),
        received_new=int(fates[NEW]),
        duplicates=int(fates[DUPLICATE]),
        fifo_dropped=int(fates[FULL]),
        read=placed.counts[IN_PROGRAM],
        thrown_away=placed.counts[GONE_WITH_FIFO],
        waiting=placed.counts[IN_FIFO],
        never_accepted=placed.counts[NEVER_ACCEPTED],
        under_way=placed.counts[ON_ITS_WAY],
        lost_chance=int(fates[CHANCE]),
        lost_collision=int(fates[COLLISION]),
        lost_deaf=int(fates[DEAF]),
        lost_range=int(fates[OUT_OF_RANGE]),
        lost_off=int(fates[OFF]),
        lost_cut=int(fates[CUT]),
        acknowledgements_lost=int((answers["fate"] != TAKEN).sum()),
        on_air_ns=int((attempts["end_ns"] - attempts["start_ns"]).sum()),
        worst_second_updates=fewest_in_a_second(reads["read_ns"], from_ns, trace.duration_ns),
        hole_ns=int(gaps[longest]),
        hole_at_ns=int(reads["read_ns"][longest - 1]) if longest else from_ns,
        gap=histogram_of(gaps),
        latency=histogram_of(reads["read_ns"] - reads["sampled_ns"]),
        age=_age(reads["read_ns"], reads["values_ns"], trace.duration_ns),
        failsafe=FailsafeTally(
            entries_true=len(record.entries) - nuisance,
            nuisance_trips=nuisance,
            on_ns=record.on_ns,
        )
        if has_failsafe
        else None,
    )


def opening_ns(trace: Trace, plan: Plan, stream: int) -> int:
    """From when on a value can be waited for: sampled at the sender, program up at the receiver."""
    sampled = trace.frames["sampled_ns"][trace.frames["stream"] == stream]
    ups = [s.at_ns for s in plan.steps if s.unit == len(plan.tx) and s.kind == PROGRAM_STARTS]
    return max(int(sampled.min()) if len(sampled) else 0, ups[0] if ups else 0)


def gaps_ns(read_ns: Spans, from_ns: int, duration_ns: int) -> Spans:
    """Gaps between reads, those before the first and after the last included (rule G3)."""
    return np.diff(np.concatenate(([min([from_ns, *read_ns[:1]])], read_ns, [duration_ns])))


def fewest_in_a_second(read_ns: Spans, from_ns: int, duration_ns: int) -> int | None:
    """Fewest reads in a whole second, counted in seconds from `from_ns`; None if none fits."""
    seconds = (duration_ns - from_ns) // NS_PER_S
    if seconds <= 0:
        return None
    counts = np.bincount((read_ns - from_ns) // NS_PER_S, minlength=seconds)
    return int(counts[:seconds].min())


def _age(read_ns: Spans, values_ns: Spans, duration_ns: int) -> Histogram:
    newest = np.maximum.accumulate(values_ns) if len(values_ns) else values_ns
    until = np.append(read_ns[1:], duration_ns)[: len(read_ns)]
    return histogram_of_ramps(read_ns - newest, until - newest)
