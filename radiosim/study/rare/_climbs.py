"""Climbs from level to level: ordinary starts, the pilot that chooses levels, and groups."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import count

import numpy as np

from radiosim.chance import RESAMPLE, Key, draw_below, key_of
from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import simulate
from radiosim.engine.stratification import weight_of
from radiosim.measure.start import seen_beats
from radiosim.scenario import Scenario
from radiosim.study.rare._watch import Moment, Watch, drawn_evenly, first_level_ns, next_level_ns
from radiosim.trace import ReadOutcome
from radiosim.units import NS_PER_HOUR, NS_PER_MS, ns_from_ms
from radiosim.vehicle.output_fold import blocked_spans

NEVER = -1


@dataclass(slots=True)
class Crossings:
    """What some starts showed."""

    key: Key
    room: int
    """Moments that are kept."""
    moments: list[Moment] = field(default_factory=list)
    """Some of the crossings, each as likely as another."""
    count: int = 0
    starts: int = 0
    """Starts that had one."""
    trips: float = 0.0
    """Weighted trips that no crossing came before; next to none."""
    hours: float = 0.0
    """Weighted, as the frames."""
    frames: float = 0.0
    beats: list[tuple[float, ...]] = field(default_factory=list)
    """By start and pair of transmitters: beats that can be expected to have been seen."""

    def add(self, watch: Watch, fed_ns: int, at_ns: int, weight: float) -> None:
        """One more crossing; beyond the room it may take another's place (reservoir sampling)."""
        self.count += 1
        place = self.count - 1
        if place >= self.room:
            place = draw_below(self.key, RESAMPLE, self.count, self.count)
        if place < self.room:
            moment = watch.moment(fed_ns, at_ns, self.count, weight)
            self.moments[place : place + 1] = [moment]

    @property
    def weight(self) -> float:
        """Weight of all crossings together."""
        if not self.moments:
            return 0.0
        return self.count / len(self.moments) * math.fsum(moment.weight for moment in self.moments)


def crossings_in(
    scenario: Scenario,
    name: str,
    starts: Sequence[int],
    level_ns: int,
    mixture: tuple[float, ...] | None,
    found: Crossings,
) -> Crossings:
    """Run ordinary starts through.

    `mixture`: shares of kinds of starts that they are weighted by (rule T6); None: not weighted.
    """
    for start in starts:
        watch, before = Watch(scenario, name, start), found.count
        weight = 1.0 if mixture is None else weight_of(watch.plan.phases, mixture)
        for fed_ns, at_ns, is_trip in _events(watch, level_ns):
            if is_trip:
                found.trips += weight
            else:
                found.add(watch, fed_ns, at_ns, weight)
        found.starts += found.count > before
        found.beats.append(seen_beats(watch.plan))
        found.hours += weight * watch.until_ns / NS_PER_HOUR
        found.frames += weight * watch.frames
    return found


def _events(watch: Watch, level_ns: int) -> Iterator[tuple[int, int, bool]]:
    """Crossings of the first level, and trips without one: (last feed, instant, is a trip).

    A timer that comes on and off between two looks with an old feed can trip without a crossing:
    a frame that waited long in the FIFO.
    """
    at_ns, crossed_ns, entered_ns = min(level_ns, watch.until_ns), NEVER, NEVER
    level_ns = min(level_ns, watch.timeout_ns)
    while True:
        glance = watch.look(at_ns)
        if glance.entered_ns > entered_ns:
            entered_ns = glance.entered_ns
            is_own = glance.entered_fed_ns == crossed_ns
            if not is_own and not watch.is_blocked(glance.entered_fed_ns, entered_ns):
                yield glance.entered_fed_ns, entered_ns, True
        if at_ns >= watch.until_ns:
            return
        is_waiting = not glance.is_on and glance.fed_ns != crossed_ns
        if is_waiting and glance.fed_ns + level_ns <= at_ns:
            crossed_ns, is_waiting = glance.fed_ns, False
            if not watch.is_blocked(glance.fed_ns, at_ns):
                yield glance.fed_ns, at_ns, False
        next_ns = (glance.fed_ns if is_waiting else at_ns) + level_ns
        at_ns = min(next_ns, watch.until_ns)


COPIES = (400, 4_000, 20_000)
"""Copies at a level; more where hardly one of the first few goes further."""
LEAST = 6
"""Copies of the pilot that must go further."""
FEWEST, MOST = 500, 6_000
"""Copies that a group makes at a level."""
SURVIVORS = 150
"""Copies of a group that should get to the next level."""
NEGLIGIBLE_PER_HOUR = 1e-9
"""Once in more than 100,000 years: whatever gets there less often is followed no further."""
MOST_LEVELS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """Levels in ns since a feed, with the copies that a group makes at each."""

    levels_ns: tuple[int, ...]
    copies: tuple[int, ...]
    """By level: how many are led on from it; none from the last of a ladder that ends early."""
    is_negligible: bool = False
    """Whether the ladder ends early since hardly anything gets to its top."""
    why_short: str = ""
    """Why the ladder ends early; empty if it does not."""

    @property
    def is_whole(self) -> bool:
        """Whether it leads to the timeout."""
        return not self.is_negligible and not self.why_short


def pilot(scenario: Scenario, name: str, starts: Sequence[int], wanted: int) -> Ladder:
    """The ladder for a stream, from some starts.

    `wanted`: about how many crossings of the first level they shall have.
    """
    gaps = [gap for start in starts for gap in _gaps_ns(scenario, name, start)]
    if len(gaps) < LEAST + 2:
        return Ladder(levels_ns=(), copies=(), why_short="hardly a frame was ever read")
    timeout_ns = ns_from_ms(scenario.failsafe[name].timeout_ms)
    level_ns = first_level_ns(gaps, timeout_ns, wanted, LEAST)
    found = Crossings(key=key_of(scenario.seed, starts[0], "pilot", name), room=COPIES[0])
    crossings_in(scenario, name, starts, level_ns, None, found)
    return _climb(found.moments, level_ns, timeout_ns, found.count / found.hours)


def _gaps_ns(scenario: Scenario, name: str, start: int) -> list[int]:
    """Times between frames that can feed the timer, but for those that a fault takes part in."""
    trace, plan = simulate(scenario, start=start, engine="fast"), make_plan(scenario, start)
    stream = plan.streams.index(name)
    feeds = trace.reads["outcome"] == ReadOutcome.READ
    if scenario.failsafe[name].fed_by == "own":
        feeds &= trace.reads["stream"] == stream
    fed_ns = trace.reads["read_ns"][feeds]
    is_blocked = np.zeros(max(0, len(fed_ns) - 1), np.bool_)
    for since_ns, until_ns in blocked_spans(scenario, plan, stream):
        is_blocked |= (fed_ns[1:] >= since_ns) & (fed_ns[:-1] <= until_ns)
    gaps: list[int] = np.diff(fed_ns)[~is_blocked].tolist()
    return gaps


def _climb(moments: list[Moment], level_ns: int, timeout_ns: int, per_hour: float) -> Ladder:
    levels, copies, branches = [level_ns], list[int](), count(1)

    def ended(*, is_negligible: bool = False, why_short: str = "") -> Ladder:
        at = f" (at {levels[-1] / NS_PER_MS:.4g} ms)" if why_short else ""
        return Ladder(
            levels_ns=tuple(levels),
            copies=tuple(copies),
            is_negligible=is_negligible,
            why_short=why_short + at,
        )

    while moments and len(levels) < MOST_LEVELS:
        level, share = _next(moments, timeout_ns, branches)
        if level is None:
            return ended(why_short=f"of {COPIES[-1]:,} copies hardly one went unfed for longer")
        copies.append(min(MOST, max(FEWEST, round(SURVIVORS / share))))
        if level >= timeout_ns:
            return ended()
        levels.append(level)
        per_hour *= share
        if per_hour < NEGLIGIBLE_PER_HOUR:
            return ended(is_negligible=True)
        moments = _led_on(moments, level, share, branches)
    return ended(why_short="it takes too many levels" if moments else "no copy of the pilot got on")


def _next(
    moments: list[Moment], timeout_ns: int, branches: "count[int]"
) -> tuple[int | None, float]:
    """The level after the one at which some moments stand, and the share that gets to it."""
    for copies in COPIES:
        drawn = _copies_of(moments, copies)
        unfed = [moment.unfed_ns(next(branches)) for moment in drawn]
        level = next_level_ns(unfed, timeout_ns, LEAST)
        if level is not None:
            return level, sum(ns >= level for ns in unfed) / copies
    return None, 0.0


def _led_on(
    moments: list[Moment], level_ns: int, share: float, branches: "count[int]"
) -> list[Moment]:
    drawn = _copies_of(moments, min(COPIES[-1], max(COPIES[0], round(COPIES[0] / share / 4))))
    led = [moment.led_on(level_ns, next(branches)) for moment in drawn]
    return [moment for moment in led if moment is not None]


def _copies_of(moments: list[Moment], number: int) -> list[Moment]:
    return drawn_evenly(moments, [1.0] * len(moments), number, 0.5)


ONE_30 = 1 << 30
ROOM = 1_000
"""First crossings that a group leads on; it sees more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupResult:
    """What one group found."""

    hours: float
    """Weighted, as all but the counts (rule T6)."""
    frames: float
    """Frames that the stream's transmitter sampled."""
    crossings: int
    """Crossings of the first level."""
    crossing_starts: int
    """Starts that had one."""
    reached: tuple[float, ...]
    """Estimated crossings of each level, then trips if the ladder is whole."""
    origins: tuple[int, ...]
    """First crossings from which those that got there descend."""
    copies: int
    """All that were led on."""
    beats: tuple[float, ...]
    """By pair of transmitters: beats of their clocks that the starts can be expected to have
    seen."""


def run_group(
    scenario: Scenario, name: str, ladder: Ladder, starts: range, mixture: tuple[float, ...]
) -> GroupResult:
    """The estimate of some starts; `mixture`: kinds of all starts of the study (rule T6)."""
    key = key_of(scenario.seed, starts.start, "rare", name)
    found = Crossings(key=key_of(scenario.seed, starts.start, "crossings", name), room=ROOM)
    crossings_in(scenario, name, starts, ladder.levels_ns[0], mixture, found)
    shares, origins = climb(ladder, found.moments, key)
    return GroupResult(
        hours=found.hours,
        frames=found.frames,
        crossings=found.count,
        crossing_starts=found.starts,
        reached=tuple(found.weight * share + found.trips for share in shares),
        origins=origins,
        copies=sum(ladder.copies),
        beats=tuple(math.fsum(pair) for pair in zip(*found.beats, strict=True)),
    )


def climb(
    ladder: Ladder, moments: list[Moment], key: Key
) -> tuple[tuple[float, ...], tuple[int, ...]]:
    """By level: share of first crossings that gets there, and from how many of them.

    Fixed effort: the number of copies at a level is given, and each stems from one of those that
    got there, drawn evenly.
    """
    branches, shares, origins = count(1), [1.0], [len(moments)]
    weights = [moment.weight for moment in moments]
    for step, copies in enumerate(ladder.copies):
        if moments:
            at = draw_below(key, RESAMPLE, ONE_30, step) / ONE_30
            drawn = drawn_evenly(moments, weights, copies, at)
            if step + 1 < len(ladder.levels_ns):
                level_ns = ladder.levels_ns[step + 1]
                led = [moment.led_on(level_ns, next(branches)) for moment in drawn]
                moments = [moment for moment in led if moment is not None]
            else:
                moments = [moment for moment in drawn if moment.trips(next(branches))]
            weights = [1.0] * len(moments)
        shares.append(shares[-1] * len(moments) / copies)
        origins.append(len({moment.origin for moment in moments}))
    return tuple(shares), tuple(origins)
