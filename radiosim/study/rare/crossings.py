"""Ordinary starts, and the moments at which a stream has gone unfed to the first level."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from radiosim.chance import RESAMPLE, Key, draw_below
from radiosim.engine.stratification import weight_of
from radiosim.measure.beats import seen_beats
from radiosim.scenario import Scenario
from radiosim.study.rare.watch import Moment, Watch
from radiosim.units import NS_PER_HOUR

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
        """Of all crossings together."""
        if not self.moments:
            return 0.0
        return self.count / len(self.moments) * sum(moment.weight for moment in self.moments)


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
