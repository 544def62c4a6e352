"""One group of starts: an estimate of its own, independent of all others."""

from dataclasses import dataclass
from itertools import count

from radiosim.chance import RESAMPLE, Key, draw_below, key_of
from radiosim.scenario import Scenario
from radiosim.study.rare.crossings import Crossings, crossings_in
from radiosim.study.rare.levels import drawn_evenly
from radiosim.study.rare.pilot import Ladder
from radiosim.study.rare.watch import Moment

ONE_30 = 1 << 30
ROOM = 1_000
"""First crossings that a group leads on; it sees more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupResult:
    """What one group found."""

    hours: float
    """Weighted, as all but the counts (rule T6)."""
    frames: float
    """That the stream's transmitter sampled."""
    crossings: int
    """Of the first level."""
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
        beats=tuple(sum(pair) for pair in zip(*found.beats, strict=True)),
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
