"""Steps with two senders on: how long until their clocks meet, and what then (facts 5)."""

import math
from collections.abc import Iterator

from radiosim.engine.meeting_phase import slip_ns
from radiosim.engine.plan import CLOCK_PPB
from radiosim.scenario import Scenario
from radiosim.study.bench.step import Prediction, Step, exact
from radiosim.study.tune.pairs import Pair, pairs_of, period_ns

CHAPTER = "Two senders at once"


def meeting_steps(scenario: Scenario) -> Iterator[Step]:
    """One step for each two senders."""
    for pair in pairs_of(scenario):
        yield _drifting(scenario, pair) if pair.is_near else _passing(pair)


def spacing_s(scenario: Scenario, pair: Pair, share: float) -> float:
    """Time from one meeting to the next that a share of all pairs of units stay below, s.

    T1·T2 over the slip of a period of the longer, its clock errors drawn evenly (rule T5); inf
    where the clocks of a scene never come apart.
    """
    names = (pair.first, pair.second)
    long, short = sorted(names, key=lambda name: -period_ns(scenario, name))
    long_ns, short_ns = period_ns(scenario, long), period_ns(scenario, short)
    middle, wide, narrow = (
        slip_ns(long_ns, short_ns),
        long_ns * _width(scenario, long),
        long_ns * _width(scenario, short),
    )
    low, high = 0.0, abs(middle) + wide + narrow
    # The slips above which that share of the pairs lies: halved until a float has no more digits.
    for _ in range(60):
        half = (low + high) / 2
        is_below = _share_within(half, middle, wide, narrow) < 1 - share
        low, high = (half, high) if is_below else (low, half)
    return long_ns * short_ns / high / 1e9 if high > 0 else math.inf


def _share_within(slip: float, middle: float, wide: float, narrow: float) -> float:
    """Share of pairs that slip by less, either way: the sum of two even draws is a trapezoid."""
    upper = _share_below(slip - middle, wide, narrow)
    return upper - _share_below(-slip - middle, wide, narrow)


def _share_below(value: float, wide: float, narrow: float) -> float:
    """Of sums of two even draws, ±`wide` and ±`narrow`."""
    wide, narrow = max(wide, narrow), min(wide, narrow)
    if wide == 0:
        return float(value >= 0)
    if narrow < 1e-6 * wide:
        return min(1.0, max(0.0, (value + wide) / (2 * wide)))
    corners = ((wide + narrow, 1), (wide - narrow, -1), (narrow - wide, -1), (-wide - narrow, 1))
    area = sum(sign * max(0.0, value + corner) ** 2 for corner, sign in corners)
    return min(1.0, max(0.0, area / (8 * wide * narrow)))


def _width(scenario: Scenario, name: str) -> float:
    """How far a clock may be off that is not given, as a share."""
    unit = scenario.transmitter[name]
    return 0.0 if unit.clock_ppm is not None else CLOCK_PPB[unit.clock] / 1e9


def _drifting(scenario: Scenario, pair: Pair) -> Step:
    half, most = (spacing_s(scenario, pair, share) for share in (0.5, 0.95))
    asked = most if math.isfinite(most) else half
    long_ms = max(period_ns(scenario, name) for name in (pair.first, pair.second)) / 1e6
    apart: tuple[Prediction, ...] = ()
    if math.isfinite(asked):
        do = f"All units on for at least {span(asked)}, or several times power-on in that time."
        apart = (exact("from one spell to the next", pair.every_s or 0.0, asked, "s"),)
    else:
        do = "All units on; switch one off and on twenty times: their clocks never drift apart."
    longest_s = _spell_s(pair, asked, long_ms)
    return Step(
        chapter=CHAPTER,
        key=f"meeting.{pair.first}.{pair.second}",
        title=f"{pair.first} and {pair.second} on until their clocks meet",
        do=do,
        measure=(
            "Let the receiver print, once a second, the sum of the jumps of each stream's frame "
            "counter. Look for a spell: seconds in a row with many jumps on both streams, then "
            "none again; note when each begins and how long it lasts."
        ),
        predicted=(
            *apart,
            exact(
                "length of a spell",
                pair.spell_frames * long_ms / 1000,
                longest_s,
                "s",
                f"retries shorten or hide it; half of all pairs of units meet every {span(half)} "
                "or sooner",
            ),
        ),
        if_not=(
            "No spell in that time: the clocks differ more than was thought, or retries cover it: "
            "fine, but try another pair of units. Spells longer or with no value at all: equal "
            f"retry delays: transmitter.{pair.second}.retry_delay_us; the cure is a period further "
            f"from a multiple of the other's: transmitter.{pair.second}.period_ms."
        ),
    )


def _spell_s(pair: Pair, spacing: float, long_ms: float) -> float:
    """Spells last as much longer as they come further apart: both go by the slip."""
    if not math.isfinite(spacing) or pair.every_s is None:
        return math.inf
    return pair.spell_frames * spacing / pair.every_s * long_ms / 1000


def _passing(pair: Pair) -> Step:
    return Step(
        chapter=CHAPTER,
        key=f"meeting.{pair.first}.{pair.second}",
        title=f"{pair.first} and {pair.second} both on: no spells",
        do="All units on for 10 min.",
        measure=(
            "Let the receiver print, once a second, the sum of the jumps of each stream's frame "
            "counter, and let each sender count its attempts and its frames."
        ),
        predicted=tuple(
            exact(
                f"{name}: share of first attempts that meet the other",
                0.0,
                100 * share,
                "%",
                "on average, were the phase random; retries bring most of them through",
            )
            for name, share in zip((pair.first, pair.second), pair.clash_share, strict=True)
        ),
        if_not=(
            "Seconds in a row with jumps on both streams: a period is not what the scene says "
            "and lies near a multiple of the other's: measure both; "
            f"transmitter.{pair.first}.period_ms, "
            f"transmitter.{pair.second}.period_ms, pacing."
        ),
    )


def span(seconds: float) -> str:
    """A length of time as a builder says it."""
    if seconds >= 7200:
        return f"{seconds / 3600:.2g} h"
    if seconds >= 120:
        return f"{math.ceil(seconds / 60)} min"
    return f"{math.ceil(seconds)} s"
