"""Steps with two clocks side by side, of transmitters or of one and a grid beside the link: how
long until they beat, and what then (facts 5)."""

import math
from collections.abc import Iterator, Mapping, Sequence

from msgspec.structs import replace

from radiosim.engine.stratification import slip_ns
from radiosim.scenario import Scenario
from radiosim.study.bench.rests import has_default, rests_on
from radiosim.study.bench.step import (
    Chapter,
    Prediction,
    Step,
    StepCase,
    assumed_where,
    exact,
    key_of,
)
from radiosim.study.bench.timing_steps import ON_AIR_KEYS, UPLOAD_KEYS
from radiosim.study.tune.period_pairs import Clocked, Pair, clocked_of, pairs_of

_KEYS = (
    *(f"transmitter.NAME.{key}" for key in ("pacing", "period_ms", "pause_ms", "loop_ms")),
    *(f"transmitter.NAME.{key}" for key in ("jitter_ms", "dither_ms", "prepare_us")),
    *(f"transmitter.NAME.{key}" for key in ("clock", "clock_ppm")),
    *UPLOAD_KEYS,
    *ON_AIR_KEYS,
)
_GRID_KEYS = (
    *(f"receiver.{key}" for key in ("deaf", "work", "interrupt", "clock", "clock_ppm")),
    *("receiver.acknowledge_when_full", "transmitter.NAME.retry_limit"),
    *("transmitter.NAME.retry_delay_us", "radio.retry_settle"),
    *(f"interferer.NAME.{key}" for key in ("beacon_every_ms", "beacon_ms", "period_ms")),
    *(f"interferer.NAME.{key}" for key in ("payload_bytes", "power_dbm_at_receiver")),
)
_PLAIN = str.maketrans("[", ".", "]")
"""Cases are named by letters, digits and dots."""
_PRINTED_S = 1.0
_SHARE_PER_CENT = 0.1
_BURSTS = (
    "A burst: seconds in a row with many jumps on both streams (on its own where only one is a "
    "transmitter), then none again; note when each begins and how long it lasts."
)


def beat_chapter(scenario: Scenario) -> Chapter | None:
    """Steps for each two clocks that can meet; None if there are none.

    None of those that draw their periods: when they meet is chance (rule J0).
    """
    units, clocked = scenario.transmitter, clocked_of(scenario)
    pairs = [
        pair
        for pair in pairs_of(scenario)
        if not any(units[name].dither_ms for name in pair.transmitters)
    ]
    beating = [pair for pair in pairs if pair.is_beating and _asked_s(clocked, pair) < math.inf]
    fixed = [pair for pair in pairs if pair.is_beating and pair not in beating]
    passing = [pair for pair in pairs if not pair.is_beating and any(pair.clash_share)]
    grids = [pair for pair in pairs if pair.has_grid]
    if not pairs:
        return None
    rests = rests_on(scenario, *_KEYS, *(_GRID_KEYS if grids else ()))
    steps = (
        *((_beating(clocked, beating),) if beating else ()),
        *((_fixed(clocked, fixed),) if fixed else ()),
        *((_passing(passing),) if passing else ()),
    )
    return Chapter(
        title="Clocks side by side" if grids else "Two transmitters at once",
        how=(
            "All units on. The receiver prints once a second by how much each stream's frame "
            "counter jumped, as under 'Frames read'."
        ),
        rests_on=rests,
        steps=tuple(
            replace(step, cases=assumed_where(lambda *_: has_default(rests), step.cases))
            for step in steps
        ),
    )


def spacing_s(clocked: Mapping[str, Clocked], pair: Pair, share: float) -> float:
    """Time from one beat to the next that a share of all pairs of units stay below, s.

    T1·T2 over the slip of a period of the longer, its clock errors drawn evenly (rule T5); inf
    where the clocks of a scenario never come apart.
    """
    both = (clocked[pair.first], clocked[pair.second])
    long, short = sorted(both, key=lambda one: -one.period_ns)
    middle, wide, narrow = (
        slip_ns(long.period_ns, short.period_ns),
        long.period_ns * long.off,
        long.period_ns * short.off,
    )
    low, high = 0.0, abs(middle) + wide + narrow
    # The slips above which that share of the pairs lies: halved until a float has no more digits.
    for _ in range(60):
        half = (low + high) / 2
        is_below = _share_within(half, middle, wide, narrow) < 1 - share
        low, high = (half, high) if is_below else (low, half)
    return long.period_ns * short.period_ns / high / 1e9 if high > 0 else math.inf


def _share_within(slip: float, middle: float, wide: float, narrow: float) -> float:
    """Share of pairs that slip by less, either way: the sum of two even draws is a trapezoid."""
    upper = _share_below(slip - middle, wide, narrow)
    return upper - _share_below(-slip - middle, wide, narrow)


def _share_below(value: float, wide: float, narrow: float) -> float:
    """Share of sums of two even draws, ±`wide` and ±`narrow`, below a value."""
    wide, narrow = max(wide, narrow), min(wide, narrow)
    if wide == 0:
        return float(value >= 0)
    if narrow < 1e-6 * wide:
        return min(1.0, max(0.0, (value + wide) / (2 * wide)))
    corners = ((wide + narrow, 1), (wide - narrow, -1), (narrow - wide, -1), (-wide - narrow, 1))
    area = math.fsum(sign * max(0.0, value + corner) ** 2 for corner, sign in corners)
    return min(1.0, max(0.0, area / (8 * wide * narrow)))


def _asked_s(clocked: Mapping[str, Clocked], pair: Pair) -> float:
    """How long to wait for a beat; inf where the clocks never come apart."""
    most = spacing_s(clocked, pair, 0.95)
    return most if math.isfinite(most) else spacing_s(clocked, pair, 0.5)


def _of_how_many(clocked: Mapping[str, Clocked], pair: Pair) -> str:
    """Which pairs of units `_asked_s` is long enough for; empty if it is for all."""
    if any(clocked[name].drifts for name in (pair.first, pair.second)):
        return "the clocks drift: it may come later; not judged beyond"
    if not any(clocked[name].off for name in (pair.first, pair.second)):
        return ""
    is_finite = math.isfinite(spacing_s(clocked, pair, 0.95))
    return f"for {'95 of 100' if is_finite else 'half of all'} pairs of units: others beat later"


def _beating(clocked: Mapping[str, Clocked], pairs: Sequence[Pair]) -> Step:
    longest_s = max(_asked_s(clocked, pair) for pair in pairs)
    return Step(
        key="beat",
        title="On until the clocks beat",
        do=f"For at least {span(longest_s)}, or several times power-on in that time.",
        measure=_BURSTS,
        cases=tuple(
            _case(
                pair,
                exact(
                    "burst to burst",
                    pair.every_s or 0.0,
                    _asked_s(clocked, pair),
                    "s",
                    _PRINTED_S,
                    text=_of_how_many(clocked, pair),
                ),
                _burst(clocked, pair),
            )
            for pair in pairs
        ),
        if_not=(
            "No burst: the clocks differ more, or retries cover it; or they agree so well that it "
            "comes later, and lasts longer then: go on for longer, and try another pair of units. "
            f"{_too_long(pairs)}"
        ),
    )


def _fixed(clocked: Mapping[str, Clocked], pairs: Sequence[Pair]) -> Step:
    return Step(
        key="beat.fixed",
        title="Clocks that never drift apart",
        do="Switch one transmitter off and on twenty times.",
        measure=_BURSTS,
        cases=tuple(_case(pair, _burst(clocked, pair)) for pair in pairs),
        if_not=f"No burst: no power-on met it, or retries cover it. {_too_long(pairs)}",
    )


def _case(pair: Pair, *predicted: Prediction) -> StepCase:
    return StepCase(
        key=f"beat.{pair.first}.{pair.second.translate(_PLAIN)}",
        title=f"{pair.first} and {pair.second}",
        predicted=predicted,
    )


def _burst(clocked: Mapping[str, Clocked], pair: Pair) -> Prediction:
    long_ms = max(clocked[name].period_ns for name in (pair.first, pair.second)) / 1e6
    half_s = spacing_s(clocked, pair, 0.5)
    is_drifting = any(clocked[name].drifts for name in (pair.first, pair.second))
    often = (
        f"; half of all pairs of units beat every {span(half_s)} or sooner"
        if math.isfinite(half_s) and not is_drifting
        else ""
    )
    return exact(
        "length of a burst",
        (pair.burst_frames or math.inf) * long_ms / 1000,
        _burst_s(pair, _asked_s(clocked, pair), long_ms),
        "s",
        _PRINTED_S,
        text=f"retries shorten or hide it{often}",
    )


def _too_long(pairs: Sequence[Pair]) -> str:
    later = [pair.second for pair in pairs if not pair.has_grid]
    movable = key_of("transmitter", later or [pair.first for pair in pairs])
    equal = f"equal retry delays: {movable}.retry_delay_us; " if later else ""
    return (
        f"Longer bursts, or no value at all: {equal}the cure is a period further from a multiple "
        f"of the other's: {movable}.period_ms."
    )


def _burst_s(pair: Pair, spacing: float, long_ms: float) -> float:
    """Bursts last as much longer as they come further apart: both go by the slip."""
    if not math.isfinite(spacing) or pair.every_s is None or pair.burst_frames is None:
        return math.inf
    return pair.burst_frames * spacing / pair.every_s * long_ms / 1000


def _passing(pairs: Sequence[Pair]) -> Step:
    names = [name for pair in pairs for name in pair.transmitters]
    return Step(
        key="passing",
        title="No bursts",
        do="For 10 min.",
        measure="Let each transmitter count its attempts and its frames, too.",
        cases=tuple(_case(pair, *_clashes(pair)) for pair in pairs),
        if_not=(
            "Seconds in a row with many jumps: a period is not what the scenario says and lies "
            "near a multiple of the other's: measure both: "
            f"{key_of('transmitter', names)}.period_ms, pacing."
        ),
    )


def _clashes(pair: Pair) -> Iterator[Prediction]:
    """Of each transmitter of a pair."""
    others = (pair.second, pair.first)
    for name, other, share in zip(pair.transmitters, others, pair.clash_share, strict=False):
        yield exact(
            "first attempts that it takes" if pair.has_grid else "first attempts that collide",
            0.0,
            100 * share,
            "%",
            _SHARE_PER_CENT,
            of=f"{name} with {other}",
            text="on average, were the phase random, and before any retry",
        )


def span(seconds: float) -> str:
    """A length of time as a builder says it."""
    if seconds >= 7200:
        return f"{seconds / 3600:.2g} h"
    if seconds >= 120:
        return f"{math.ceil(seconds / 60)} min"
    return f"{math.ceil(seconds)} s"
