"""Figures of the streams of one start; where every sampled frame ended (rules G3 and H)."""

from collections.abc import Sequence
from dataclasses import dataclass

from radiosim.engine.jit import JitBackend, Record
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import PROGRAM_STARTS
from radiosim.engine.simulate import Chunk
from radiosim.engine.timeline import FOREVER_NS
from radiosim.measure import stream_rows as parts
from radiosim.measure.histogram import COUNTS, of_ramps, of_spread
from radiosim.measure.of_radio import Traffic, of_receiver, of_transmitter
from radiosim.measure.stream_rows import (
    BUSY,
    CUT_BEFORE_SENDING,
    GONE_WITH_FIFO,
    IN_FIFO,
    IN_PROGRAM,
    MOST_SPANS,
    NEVER_ACCEPTED,
    NO_ROOM,
    ON_ITS_WAY,
    OVERTAKEN,
    PLACES,
    BusyState,
)
from radiosim.measure.tally import FailsafeTally, RadioTally, StreamTally
from radiosim.trace import Fate, Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """How many frames of one stream ended in each of PLACES."""

    counts: tuple[int, ...]

    @property
    def sampled(self) -> int:
        """All frames."""
        return sum(self.counts)


def account(ended: Sequence[int], accepted: Sequence[int], *, is_last_accepted: bool) -> Account:
    """Both ends of the link put together; a frame that was accepted ended at the receiver.

    `ended`: frames of a stream by where their transmitter lost sight of them; `accepted`: those
    that the receiver accepted, by where they ended there, each once. `is_last_accepted`: one of
    them is still under way at its transmitter. Frames of a stream reach the receiver in order, so
    that is the last one at most; all the others their transmitter holds for acknowledged, for sent,
    or for lost with its retries used up."""
    counts = list(ended)
    for place in range(GONE_WITH_FIFO + 1):
        counts[place] += accepted[place]
    under_way = int(is_last_accepted)
    counts[ON_ITS_WAY] -= under_way
    counts[NEVER_ACCEPTED] -= sum(accepted) - under_way
    return Account(counts=tuple(counts))


_COUNTS = COUNTS | {
    "fates": len(Fate),
    "outcomes": len(Outcome),
    "ended": len(PLACES),
    "accepted": len(PLACES),
}


class StreamFold:
    """Counts and times of all streams of one start, folded over its rows; exact, but quantiles."""

    def __init__(self, plan: Plan, backend: JitBackend) -> None:
        self._machine, self._plan = backend, plan
        self._busy = backend.record(BusyState, {"span": MOST_SPANS})
        self._streams = backend.records(parts.StreamState, len(plan.tx), _COUNTS)
        ups = [s.at_ns for s in plan.steps if s.unit == len(plan.tx) and s.kind == PROGRAM_STARTS]
        for stream in self._streams:
            backend.set(
                stream,
                last_sent=parts.NOTHING,
                last_accepted=parts.NOTHING,
                last_under_way=parts.NOTHING,
                up_ns=ups[0] if ups else 0,
                sampled_ns=FOREVER_NS,
                longest_gap_ns=-1,
                fewest=-1,
            )
        self._fold = backend.entry(parts.fold_rows)
        self._end = backend.entry(parts.fold_end)

    def take(self, chunk: Chunk) -> None:
        """Some more rows."""
        rows = {name: self._machine.rows(table) for name, table in chunk.items()}
        self._fold(
            self._busy,
            self._streams,
            rows["attempts"],
            rows["acknowledgements"],
            rows["frames"],
            rows["reads"],
        )

    def finish(self) -> None:
        """No more rows come."""
        self._end(self._streams, self._plan.until_ns)

    @property
    def busy_ns(self) -> int:
        """Time in which anything was on the air, overlaps counted once."""
        return int(self._machine.get(self._busy, "busy_ns"))

    def tally(self, stream: int, failsafe: FailsafeTally | None) -> StreamTally:
        """What one stream adds to the figures, after the last row."""
        radio = of_transmitter(self._plan, stream, self._traffic(stream))
        return _tally(self._streams[stream], radio, failsafe, self._machine)

    def receiver(self) -> RadioTally:
        """Where the receiver's radio spent its time, after the last row."""
        return of_receiver(self._plan, [self._traffic(i) for i in range(len(self._streams))])

    def _traffic(self, stream: int) -> Traffic:
        get, s = self._machine.get, self._streams[stream]
        fates = [int(count) for count in get(s, "fates")]
        return Traffic(
            attempts=sum(fates),
            cut=fates[Fate.CUT],
            on_air_ns=int(get(s, "on_air_ns")),
            acknowledgements=int(get(s, "acknowledgements")),
            acknowledgements_ns=int(get(s, "acknowledgements_ns")),
            unheard=int(get(s, "acknowledgements_lost")),
        )


def _tally(
    s: Record, radio: RadioTally, failsafe: FailsafeTally | None, backend: JitBackend
) -> StreamTally:
    def number(name: str) -> int:
        return int(backend.get(s, name))

    def numbers(name: str) -> list[int]:
        return [int(count) for count in backend.get(s, name)]

    fates, outcomes = numbers("fates"), numbers("outcomes")
    last = number("last_under_way")
    placed = account(
        numbers("ended"),
        numbers("accepted"),
        is_last_accepted=last != parts.NOTHING and last == number("last_accepted"),
    )
    fewest = number("fewest")
    return StreamTally(
        sampled=placed.sampled,
        skipped=placed.counts[BUSY],
        replaced=placed.counts[OVERTAKEN],
        queue_full=placed.counts[NO_ROOM],
        power_cut=placed.counts[CUT_BEFORE_SENDING],
        sent=number("sent"),
        attempts=sum(fates),
        acknowledged=outcomes[Outcome.ACKNOWLEDGED],
        retries_used_up=outcomes[Outcome.RETRIES_USED_UP] + outcomes[Outcome.KEPT],
        received_new=fates[Fate.NEW],
        duplicates=fates[Fate.DUPLICATE],
        fifo_dropped=fates[Fate.FULL],
        read=placed.counts[IN_PROGRAM],
        thrown_away=placed.counts[GONE_WITH_FIFO],
        waiting=placed.counts[IN_FIFO],
        never_accepted=placed.counts[NEVER_ACCEPTED],
        under_way=placed.counts[ON_ITS_WAY],
        lost_chance=fates[Fate.CHANCE],
        lost_collision=fates[Fate.COLLISION],
        lost_deaf=fates[Fate.DEAF],
        lost_range=fates[Fate.OUT_OF_RANGE],
        lost_off=fates[Fate.OFF],
        lost_cut=fates[Fate.CUT],
        acknowledgements_lost=number("acknowledgements_lost"),
        on_air_ns=number("on_air_ns"),
        radio=radio,
        worst_second_updates=None if fewest < 0 else fewest,
        longest_gap_ns=number("longest_gap_ns"),
        longest_gap_at_ns=number("longest_gap_at_ns"),
        gap=of_spread(backend.get(s, "gap"), backend),
        latency=of_spread(backend.get(s, "latency"), backend),
        age=of_ramps(backend.get(s, "age"), backend),
        failsafe=failsafe,
    )
