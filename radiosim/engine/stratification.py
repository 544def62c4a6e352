"""Phases at which two schedules that drift into each other meet (rule T6).

Two transmitters, or a transmitter and a grid beside the link (see grids.py).

Nearly equal periods, or nearly a whole multiple of one another, beat seldom and stay in each
other's air time for long (facts 5), so that ordinary starts of a few minutes may all miss it. Every
third start is therefore a *beat start*: the phase of one drifting pair, each pair in turn, is
drawn among those that meet while the start lasts, evenly spread over them (van der Corput's
sequence with a random shift). All other starts draw their phases as ever. Figures over starts are
weighted back: a start counts by 1 over how much denser than ordinary draws the whole mixture draws
its phases, so that averages stay what ordinary starts would give in the long run, and no start
counts more than 1.5 times where a third of them are beat starts. Where a third of the ordinary
starts would meet anyway, a pair needs no help and gets none. Which kind a start is depends on the
scenario and the start's number alone: start 7 is the same in every run. In a beat start the
phase belongs to the pair, the one exception from rule T3: of its two transmitters the later in the
file is moved to meet the other.

Source: balance heuristic, E. Veach and L. J. Guibas, SIGGRAPH 1995; mixture importance sampling,
A. Owen and Y. Zhou, JASA 95 (2000); from memory.
"""

import functools
import math
from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

import msgspec

from radiosim.chance import PHASE, draw_below, key_of
from radiosim.engine.plan_drift import NO_DRIFT, wander_ns
from radiosim.engine.plan_rows import ACKNOWLEDGING, Drift, Tx
from radiosim.engine.rules.timing import TIMER, scaled

EVERY = 3
"""One start of so many is a beat start."""
ENOUGH = 1 / EVERY
"""Share of ordinary starts that meet from which on a pair needs no help."""
ONE_30 = 1 << 30

_LOOKS = 256
"""Instants at which the phase of clocks that drift is looked at."""

Pair = tuple[int, int]


class Schedule(NamedTuple):
    """What comes on a grid."""

    period_ns: float
    """True period; of a clock that drifts, its mean."""
    first_ns: float
    takes_ns: int
    drift: Drift


class Beat(msgspec.Struct, frozen=True, kw_only=True):
    """When one pair of transmitters meets in one start."""

    long: int
    """The transmitter with the longer period."""
    short: int
    phase_ns: float
    """From a frame of `short` to the first frame of `long` while both run, 0 to a period of
    `short`."""
    low_ns: float
    """The first of the phases that meet; they lie behind it on the circle of one period."""
    length_ns: float
    period_ns: float
    """True period of `short`."""

    @property
    def share(self) -> float:
        """Share of all phases that meet."""
        return min(1.0, self.length_ns / self.period_ns)

    @property
    def is_met(self) -> bool:
        """Whether this start's phase is one of those."""
        return (self.phase_ns - self.low_ns + 1) % self.period_ns <= self.length_ns + 2


class Phases(msgspec.Struct, frozen=True, kw_only=True):
    """How the phases of one start came about."""

    made_for: Pair | None
    """The pair that was placed on a beat; None: an ordinary start."""
    densities: tuple[float, ...]
    """By drifting pair: how much denser than ordinary starts those made for it draw these phases;
    0 if they never do."""


def window_ns(first: Tx, second: Tx) -> int:
    """How near two starts must be for frames to spoil each other (a + b, + deaf time), ns."""
    window = first.frame_ns + second.frame_ns
    for tx in (first, second):
        if tx.acknowledge == ACKNOWLEDGING:
            window = max(window, first.frame_ns + second.frame_ns + 2 * tx.settle_ns + tx.ack_ns)
    return window


def reach_ns(first: Tx, second: Tx) -> int:
    """`window_ns`, and what jitter and dither add to how far two schedules come in a frame, ns."""
    late_ns = sum(tx.jitter_ns + tx.dither_ns for tx in (first, second))
    return window_ns(first, second) + late_ns


def meeting_ns(first: Tx, second: Tx) -> int:
    """Length of the span of phases at which frames of two meet, ns."""
    return 2 * window_ns(first, second) - first.frame_ns - second.frame_ns


def does_dither_part(first: Tx, second: Tx) -> bool:
    """Whether of frames that met the next ones meet with a chance of half at most (rule J0).

    From a dither as long as the span of phases that meet: the next phase is spread over twice that.
    """
    return max(first.dither_ns, second.dither_ns) >= meeting_ns(first, second)


def distance_from_multiple(one_ns: float, other_ns: float) -> float:
    """How far the longer of two periods is from the nearest whole multiple of the shorter, ns."""
    return abs(slip_ns(max(one_ns, other_ns), min(one_ns, other_ns)))


def slip_ns(long_ns: float, short_ns: float) -> float:
    """How far the longer period is behind the nearest whole multiple of the shorter, ns."""
    return long_ns - max(1, round(long_ns / short_ns)) * short_ns


def period_of(tx: Tx) -> int:
    """The true period of a timer transmitter in one start, ns per 10⁶ samples.

    Of a clock that drifts, its mean over the start (rule T7).
    """
    return scaled(tx.period_ns * 1_000_000, tx.ppb + tx.drift.mean_ppb)


def beats_in(
    one_ns: float,
    other_ns: float,
    window: float,
    shared: int,
    *,
    drifts: tuple[Drift, Drift] = (NO_DRIFT, NO_DRIFT),
    base_ns: int = 0,
) -> float:
    """Beats of two periods that so long a time can be expected to show, the chance to be on one as
    it begins included (facts 5); `window`: how near counts, ns.

    With clocks that drift from `base_ns` on: by how far the phase really goes.
    """
    long_ns, short_ns = max(one_ns, other_ns), min(one_ns, other_ns)
    if any(drift.drifts for drift in drifts):
        long, short = drifts if one_ns >= other_ns else (drifts[1], drifts[0])
        swept_ns = slip_ns(long_ns, short_ns) * shared / long_ns
        low, high = swept(swept_ns, long, short, base_ns, shared)
        return min(1.0, window / short_ns) + (high - low) / short_ns
    slip = distance_from_multiple(one_ns, other_ns)
    return min(1.0, window / short_ns) + slip * shared / (long_ns * short_ns)


def drifts(first: Tx, second: Tx) -> bool:
    """Whether two timer transmitters beat seldom and for long."""
    if first.pacing != TIMER or second.pacing != TIMER:
        return False
    long_ns, short_ns = sorted((period_of(first) / 1e6, period_of(second) / 1e6), reverse=True)
    is_late = max(first.jitter_ns, second.jitter_ns) >= short_ns / 2
    if is_late or does_dither_part(first, second):
        return False
    return distance_from_multiple(long_ns, short_ns) < window_ns(first, second)


def movable_pairs(tx: Sequence[Tx], is_drawn: Sequence[bool]) -> tuple[Pair, ...]:
    """Pairs on timers of which one phase at least is drawn, by nominal periods.

    Whether they drift is known only with the clocks of a start.
    """
    nominal = [transmitter._replace(ppb=0) for transmitter in tx]
    return tuple(
        (a, b)
        for a, b in combinations(range(len(tx)), 2)
        if (is_drawn[a] or is_drawn[b]) and drifts(nominal[a], nominal[b])
    )


def beat_of(tx: Sequence[Tx], bases_ns: Sequence[int], pair: Pair, shared_ns: int) -> Beat:
    """The beat of a pair in a start.

    `bases_ns`: when the transmitters' programs first start; `shared_ns`: how long both run.
    """
    schedules = {
        i: Schedule(
            period_of(tx[i]) / 1e6,
            float(bases_ns[i] + tx[i].offset_ns),
            tx[i].frame_ns,
            tx[i].drift,
        )
        for i in pair
    }
    deaf_ns = window_ns(*(tx[i] for i in pair)) - sum(tx[i].frame_ns for i in pair)
    return beat_of_schedules(schedules, max(bases_ns[i] for i in pair), shared_ns, deaf_ns)


def swept(
    swept_ns: float, long: Drift, short: Drift, base_ns: int, shared_ns: int
) -> tuple[float, float]:
    """How far the longer schedule falls behind the shorter at least and at most in a time, ns.

    `swept_ns`: by its end, at mean rates.
    """
    shares: tuple[float, ...] = (0.0, 1.0)
    if long.drifts or short.drifts:
        # Clocks move fastest when they are cold.
        shares = tuple((k / _LOOKS) ** 2 for k in range(_LOOKS + 1))
    behind = [
        swept_ns * share
        + wander_ns(long, base_ns, base_ns + share * shared_ns)
        - wander_ns(short, base_ns, base_ns + share * shared_ns)
        for share in shares
    ]
    return min(behind), max(behind)


def beat_of_schedules(
    schedules: Mapping[int, Schedule], base_ns: int, shared_ns: int, deaf_ns: int
) -> Beat:
    """The beat of two schedules by their numbers.

    `base_ns`: from when on both run; `shared_ns`: for how long; `deaf_ns`: how far apart they must
    be besides.
    """
    long, short = sorted(schedules, key=lambda i: (-schedules[i].period_ns, i))
    long_ns, first_ns, long_takes_ns, long_drift = schedules[long]
    short_ns, beside_ns, short_takes_ns, short_drift = schedules[short]
    low_ns, high_ns = swept(
        slip_ns(long_ns, short_ns) * shared_ns / long_ns,
        long_drift,
        short_drift,
        base_ns,
        shared_ns,
    )
    before = max(0, math.ceil((base_ns - first_ns) / long_ns))
    # Where both stand as they begin to run side by side.
    first_ns += wander_ns(long_drift, min(first_ns, base_ns), base_ns)
    beside_ns += wander_ns(short_drift, min(beside_ns, base_ns), base_ns)
    return Beat(
        long=long,
        short=short,
        phase_ns=(first_ns + before * long_ns - beside_ns) % short_ns,
        low_ns=-long_takes_ns - deaf_ns - high_ns,
        length_ns=long_takes_ns + short_takes_ns + 2 * deaf_ns + (high_ns - low_ns),
        period_ns=short_ns,
    )


def place(seed: int, names: tuple[str, str], count: int) -> float:
    """Where in its phases the count-th beat start of two transmitters lies, 0 to 1."""
    key = key_of(seed, 0, "beats", "/".join(names))
    return (_reversed_bits(count) + draw_below(key, PHASE, ONE_30)) % ONE_30 / ONE_30


def _reversed_bits(count: int) -> int:
    """Van der Corput's sequence in base 2, in units of 2⁻³⁰."""
    return int(f"{count % ONE_30:030b}"[::-1], 2)


def moved_offset(tx: Sequence[Tx], is_drawn: Sequence[bool], meeting: Beat, at: float) -> Pair:
    """Which transmitter's offset makes the pair meet at a place of its phases: (transmitter, offset
    in ns). `is_drawn`: of grids False.

    The later in the file, if its phase is drawn, so that a change of it leaves the other's as it
    was (rule T3). The offset stays within its period; a longer one is moved up to its slip beside
    the place.
    """
    by_ns = round(meeting.low_ns + at * meeting.length_ns - meeting.phase_ns)
    earlier, later = sorted((meeting.long, meeting.short))
    moved = later if is_drawn[later] else earlier
    unit = tx[moved]
    if moved == meeting.short:
        return moved, (unit.offset_ns - by_ns) % unit.period_ns
    turns_ns = max(1, round(unit.period_ns / meeting.period_ns)) * meeting.period_ns
    return moved, min(round((unit.offset_ns + by_ns) % turns_ns), unit.period_ns - 1)


def component(start: int, pairs: int) -> int:
    """Number of the drifting pair that a start is made for; −1: an ordinary start."""
    return start // EVERY % pairs if pairs and start % EVERY == 0 else -1


@functools.cache
def shares_of(first: int, count: int, pairs: int) -> tuple[float, ...]:
    """Shares of some starts in a row: ordinary ones, then those made for each drifting pair."""
    kinds = [component(start, pairs) for start in range(first, first + count)]
    return tuple(kinds.count(kind) / count for kind in range(-1, pairs))


def weight_of(phases: Phases, shares: Sequence[float]) -> float:
    """How much a start counts in figures over starts with these shares (see `shares_of`).

    1 where nothing drifts, and where there is no ordinary start to be weighted with.
    """
    ordinary, *made = shares
    if not ordinary:
        return 1.0
    mixed = math.fsum(
        share * density for share, density in zip(made, phases.densities, strict=True)
    )
    return 1 / (ordinary + mixed)
