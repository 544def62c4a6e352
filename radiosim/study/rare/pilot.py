"""A first climb on starts of its own, which chooses the levels for all that follow."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count

import numpy as np

from radiosim.chance import key_of
from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario
from radiosim.study.rare.crossings import Crossings, crossings_in
from radiosim.study.rare.levels import drawn_evenly, first_level_ns, next_level_ns
from radiosim.study.rare.watch import Moment
from radiosim.trace import READ
from radiosim.units import NS_PER_MS, ns_from_ms
from radiosim.vehicle.failsafe import blocked_spans

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
    """It ends early: hardly anything gets to its top."""
    why_short: str = ""
    """It ends early, for this reason."""

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
    feeds = trace.reads["outcome"] == READ
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
