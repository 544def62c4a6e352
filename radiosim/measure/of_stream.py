"""Figures of the streams and radios of one start; where every sampled frame ended (rules G3, H).

A radio that is set up sends, listens, turns round, or stands by. Before its program has set it up,
without its settings, and without power it counts as asleep, its crystal's start included.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import msgspec
from msgspec.structs import replace

from radiosim.engine.jit import JitBackend, Record
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import ACKNOWLEDGING, RADIO_STARTS, RADIO_STOPS, Tx
from radiosim.engine.simulate import Chunk
from radiosim.engine.timeline import FOREVER_NS
from radiosim.engine.unit_spans import first_boot_ns, up_ns
from radiosim.measure import stream_rows as parts
from radiosim.measure.histogram import COUNTS, of_ramps, of_spread
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
from radiosim.measure.tally import FailsafeTally, NoiseTally, RadioTally, StreamTally
from radiosim.trace import Fate, Outcome


class Traffic(msgspec.Struct, frozen=True, kw_only=True):
    """What one stream brought on the air."""

    attempts: int
    cut: int
    """Attempts that a power cut ended."""
    on_air_ns: int
    acknowledgements: int
    """Acknowledgements that it earned."""
    acknowledgements_ns: int
    """Time of the acknowledgements on the air."""
    unheard: int
    """Acknowledgements that no transmitter took."""
    to_noise: int
    """Acknowledgements that noise with its address earned; of those above it is none."""
    to_noise_ns: int


def of_transmitter(plan: Plan, stream: int, traffic: Traffic) -> RadioTally:
    """Where a transmitter's radio spent its time (rules B1, B3 and B4).

    It listens until the acknowledgement's end, or, if none comes, until its window closes; where
    both fall in one, until the later: what spoils an acknowledgement may leave its address whole.
    """
    tx = plan.tx[stream]
    settling_ns = traffic.attempts * tx.settle_ns
    if tx.acknowledge != ACKNOWLEDGING:
        radio = RadioTally(transmit_settle_ns=settling_ns, transmit_ns=traffic.on_air_ns)
        return _with_rest(plan, stream, radio)
    listened = traffic.attempts - traffic.cut
    acknowledgement_ns = plan.rx.settle_ns - tx.settle_ns + tx.ack_ns
    in_vain_ns = window_ns(tx)
    taken = traffic.acknowledgements - traffic.unheard
    listening_ns = (
        taken * acknowledgement_ns
        + traffic.unheard * max(acknowledgement_ns, in_vain_ns)
        + max(0, listened - traffic.acknowledgements) * in_vain_ns
    )
    radio = RadioTally(
        transmit_settle_ns=settling_ns,
        transmit_ns=traffic.on_air_ns,
        receive_settle_ns=listened * tx.settle_ns,
        receive_ns=listening_ns,
    )
    return _with_rest(plan, stream, radio)


def window_ns(tx: Tx) -> int:
    """How long a transmitter listens for what does not come (rules B3 and B4).

    Its window, if it need not turn round before.
    """
    return max(0, min(tx.window_ns, tx.retry_ns - 2 * tx.settle_ns))


def of_receiver(plan: Plan, streams: list[Traffic]) -> RadioTally:
    """Where the receiver's radio spent its time: it listens, except to acknowledge (rule D1).

    While its program makes it deaf it counts as listening: that it draws no less is the safe side.
    """
    acknowledgements = sum(traffic.acknowledgements + traffic.to_noise for traffic in streams)
    acknowledgements_ns = sum(t.acknowledgements_ns + t.to_noise_ns for t in streams)
    settling_ns = acknowledgements * plan.rx.settle_ns
    on_ns = radio_on_ns(plan, len(plan.tx))
    return RadioTally(
        transmit_settle_ns=settling_ns,
        transmit_ns=acknowledgements_ns,
        receive_settle_ns=settling_ns,
        receive_ns=max(0, on_ns - 2 * settling_ns - acknowledgements_ns),
        asleep_ns=plan.until_ns - on_ns,
    )


def radio_on_ns(plan: Plan, unit: int) -> int:
    """For how long a unit's radio is set up; the receiver is unit n."""
    total_ns, since_ns, is_on = 0, 0, False
    for step in plan.steps:
        if step.unit != unit or step.kind not in (RADIO_STARTS, RADIO_STOPS):
            continue
        if is_on:
            total_ns += step.at_ns - since_ns
        is_on, since_ns = step.kind == RADIO_STARTS, step.at_ns
    return total_ns + (plan.until_ns - since_ns if is_on else 0)


def _with_rest(plan: Plan, unit: int, radio: RadioTally) -> RadioTally:
    """Adds the time that a radio stands by, and that before it is set up."""
    on_ns = radio_on_ns(plan, unit)
    return replace(radio, standby_ns=max(0, on_ns - radio.busy_ns), asleep_ns=plan.until_ns - on_ns)


def up_of(plan: Plan, stream: int) -> int:
    """From when a stream can come through to the end: what its rate is counted over."""
    return up_ns(plan.steps, (stream, len(plan.tx)), plan.until_ns)


class Account(msgspec.Struct, frozen=True, kw_only=True):
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
    """Counts and times of all streams of one start, folded over its rows; exact, but quantiles.

    `has_noise`: noise that passes for frames is simulated.
    """

    def __init__(self, plan: Plan, backend: JitBackend, *, has_noise: bool) -> None:
        self._machine, self._plan, self._has_noise = backend, plan, has_noise
        self.busy = backend.record(BusyState, {"span": MOST_SPANS})
        self.states = backend.records(parts.StreamState, len(plan.tx), _COUNTS)
        for stream in self.states:
            backend.set(
                stream,
                last_sent=parts.NOTHING,
                last_new=parts.NOTHING,
                last_accepted=parts.NOTHING,
                last_under_way=parts.NOTHING,
                sampled_ns=FOREVER_NS,
                longest_gap_ns=-1,
                fewest=-1,
            )
        self.draw(plan)
        self._fold = backend.entry(parts.fold_rows)
        self._end = backend.entry(parts.fold_end)

    def draw(self, plan: Plan) -> None:
        """Set what a start makes of states that are those of the beginning."""
        self._plan = plan
        up_ns = first_boot_ns(plan.steps, len(plan.tx))
        for stream in self.states:
            self._machine.set(stream, up_ns=up_ns)

    def take(self, chunk: Chunk) -> None:
        """Some more rows."""
        rows = {name: self._machine.rows(table) for name, table in chunk.items()}
        self._fold(
            self.busy,
            self.states,
            rows["attempts"],
            rows["acknowledgements"],
            rows["frames"],
            rows["reads"],
        )

    def finish(self) -> None:
        """No more rows come."""
        self._end(self.states, self._plan.until_ns)

    @property
    def busy_ns(self) -> int:
        """Time in which anything was on the air, overlaps counted once."""
        return int(self._machine.get(self.busy, "busy_ns"))

    def tallies(
        self, failsafes: Mapping[int, FailsafeTally]
    ) -> tuple[dict[str, StreamTally], RadioTally]:
        """What each stream adds to the figures, after the last row, and where the receiver's radio
        spent its time; `failsafes`: by number of a stream that has one."""
        plan = self._plan
        told = self._machine.told(self.states, _Counts._fields)
        every = [_Counts(*numbers) for numbers in told]
        traffics = [counts.traffic() for counts in every]
        found = {
            name: _tally(
                self.states[stream],
                every[stream],
                of_transmitter(plan, stream, traffics[stream]),
                up_of(plan, stream),
                failsafes.get(stream),
                NoiseTally(frames=every[stream].noise_frames) if self._has_noise else None,
                self._machine,
            )
            for stream, name in enumerate(plan.streams)
        }
        return found, of_receiver(plan, traffics)


class _Counts(NamedTuple):
    """What a StreamState has come to, but for its spreads."""

    fates: list[int]
    on_air_ns: int
    sent: int
    mistaken: int
    acknowledgements: int
    acknowledgements_ns: int
    acknowledgements_lost: int
    noise_acknowledgements: int
    noise_acknowledgements_ns: int
    noise_frames: int
    outcomes: list[int]
    ended: list[int]
    last_under_way: int
    accepted: list[int]
    last_accepted: int
    longest_gap_ns: int
    longest_gap_at_ns: int
    fewest: int

    def traffic(self) -> Traffic:
        """What radios did for it."""
        return Traffic(
            attempts=sum(self.fates),
            cut=self.fates[Fate.CUT],
            on_air_ns=self.on_air_ns,
            acknowledgements=self.acknowledgements,
            acknowledgements_ns=self.acknowledgements_ns,
            unheard=self.acknowledgements_lost,
            to_noise=self.noise_acknowledgements,
            to_noise_ns=self.noise_acknowledgements_ns,
        )


def _tally(
    s: Record,
    counts: _Counts,
    radio: RadioTally,
    up_ns: int,
    failsafe: FailsafeTally | None,
    noise: NoiseTally | None,
    backend: JitBackend,
) -> StreamTally:
    fates, outcomes, last = counts.fates, counts.outcomes, counts.last_under_way
    placed = account(
        counts.ended,
        counts.accepted,
        is_last_accepted=last != parts.NOTHING and last == counts.last_accepted,
    )
    return StreamTally(
        sampled=placed.sampled,
        skipped=placed.counts[BUSY],
        replaced=placed.counts[OVERTAKEN],
        queue_full=placed.counts[NO_ROOM],
        power_cut=placed.counts[CUT_BEFORE_SENDING],
        sent=counts.sent,
        attempts=sum(fates),
        acknowledged=outcomes[Outcome.ACKNOWLEDGED],
        retries_used_up=outcomes[Outcome.RETRIES_USED_UP] + outcomes[Outcome.KEPT],
        received_new=fates[Fate.NEW],
        duplicates=fates[Fate.DUPLICATE],
        mistaken=counts.mistaken,
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
        acknowledgements_lost=counts.acknowledgements_lost,
        up_ns=up_ns,
        on_air_ns=counts.on_air_ns,
        radio=radio,
        worst_second_updates=None if counts.fewest < 0 else counts.fewest,
        longest_gap_ns=counts.longest_gap_ns,
        longest_gap_at_ns=counts.longest_gap_at_ns,
        gap=of_spread(backend.get(s, "gap"), backend),
        latency=of_spread(backend.get(s, "latency"), backend),
        age=of_ramps(backend.get(s, "age"), backend),
        failsafe=failsafe,
        noise=noise,
    )
