"""Figures of the streams and radios of one start; where every sampled frame ended (rules G3, H).

A radio that is set up sends, listens, turns round, or stands by. Before its program has set it up,
without its settings, and without power it counts as asleep, its crystal's start included.
"""

from collections.abc import Sequence

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

    def tally(self, stream: int, failsafe: FailsafeTally | None) -> StreamTally:
        """What one stream adds to the figures, after the last row."""
        radio = of_transmitter(self._plan, stream, self._traffic(stream))
        tally = _tally(self.states[stream], radio, failsafe, self._machine)
        tally = replace(tally, up_ns=up_of(self._plan, stream))
        if not self._has_noise:
            return tally
        frames = int(self._machine.get(self.states[stream], "noise_frames"))
        return replace(tally, noise=NoiseTally(frames=frames))

    def receiver(self) -> RadioTally:
        """Where the receiver's radio spent its time, after the last row."""
        return of_receiver(self._plan, [self._traffic(i) for i in range(len(self.states))])

    def _traffic(self, stream: int) -> Traffic:
        get, s = self._machine.get, self.states[stream]
        fates = [int(count) for count in get(s, "fates")]
        return Traffic(
            attempts=sum(fates),
            cut=fates[Fate.CUT],
            on_air_ns=int(get(s, "on_air_ns")),
            acknowledgements=int(get(s, "acknowledgements")),
            acknowledgements_ns=int(get(s, "acknowledgements_ns")),
            unheard=int(get(s, "acknowledgements_lost")),
            to_noise=int(get(s, "noise_acknowledgements")),
            to_noise_ns=int(get(s, "noise_acknowledgements_ns")),
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
        up_ns=0,
        on_air_ns=number("on_air_ns"),
        radio=radio,
        worst_second_updates=None if fewest < 0 else fewest,
        longest_gap_ns=number("longest_gap_ns"),
        longest_gap_at_ns=number("longest_gap_at_ns"),
        gap=of_spread(backend.get(s, "gap"), backend),
        latency=of_spread(backend.get(s, "latency"), backend),
        age=of_ramps(backend.get(s, "age"), backend),
        failsafe=failsafe,
        noise=None,
    )
