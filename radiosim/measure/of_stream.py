"""Figures of one stream from a trace (rules G3 and H)."""

import numpy as np

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
    DEAF,
    DUPLICATE,
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
    trace: Trace, stream: int, record: StreamRecord, has_failsafe: bool
) -> StreamTally:
    """What one stream adds to the figures."""
    attempts = trace.attempts[trace.attempts["stream"] == stream]
    frames = trace.frames[trace.frames["stream"] == stream]
    answers = trace.acknowledgements[trace.acknowledgements["stream"] == stream]
    reads = trace.reads[(trace.reads["stream"] == stream) & (trace.reads["outcome"] == READ)]
    fates = np.bincount(attempts["fate"], minlength=CHANCE + 2)
    outcomes = np.bincount(frames["outcome"], minlength=KEPT + 1)
    placed = account(trace, stream)
    gaps = gaps_ns(reads["read_ns"], trace.duration_ns)
    nuisance = sum(not entry.is_true for entry in record.entries)
    return StreamTally(
        sampled=placed.sampled,
        skipped=placed.counts[BUSY],
        replaced=placed.counts[OVERTAKEN],
        queue_full=placed.counts[NO_ROOM],
        power_cut=placed.counts[CUT_BEFORE_SENDING],
        sent=len(np.unique(attempts["frame"])),
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
        acknowledgements_lost=int((answers["fate"] != TAKEN).sum()),
        on_air_ns=int((attempts["end_ns"] - attempts["start_ns"]).sum()),
        worst_second_updates=fewest_in_a_second(reads["read_ns"], trace.duration_ns),
        hole_ns=int(gaps.max()),
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


def gaps_ns(read_ns: Spans, duration_ns: int) -> Spans:
    """Gaps between reads, the open one at the end included; the whole run without a read."""
    if len(read_ns) == 0:
        return np.array([duration_ns], np.int64)
    return np.diff(np.append(read_ns, duration_ns))


def fewest_in_a_second(read_ns: Spans, duration_ns: int) -> int | None:
    """Fewest reads in a whole second, counted in seconds from the first read; None if none fits."""
    first_ns = int(read_ns[0]) if len(read_ns) else 0
    seconds = (duration_ns - first_ns) // NS_PER_S
    if seconds == 0:
        return None
    counts = np.bincount((read_ns - first_ns) // NS_PER_S, minlength=seconds)
    return int(counts[:seconds].min())


def _age(read_ns: Spans, values_ns: Spans, duration_ns: int) -> Histogram:
    newest = np.maximum.accumulate(values_ns) if len(values_ns) else values_ns
    until = np.append(read_ns[1:], duration_ns)[: len(read_ns)]
    return histogram_of_ramps(read_ns - newest, until - newest)
