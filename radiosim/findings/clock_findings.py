"""Findings about two transmitters: beats, equal retries, ideal timers, starvation (facts 5)."""

import math
from collections.abc import Iterator
from itertools import combinations, islice

from radiosim.counted import counted
from radiosim.engine.grids import can_starve
from radiosim.engine.named_grids import named_grids
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import Rx, Tx
from radiosim.engine.rules.timing import TIMER
from radiosim.engine.stratification import (
    distance_from_multiple,
    does_dither_part,
    meeting_ns,
    reach_ns,
    window_ns,
)
from radiosim.findings.case import Case, Overrides
from radiosim.findings.proof import WITHOUT_FAULTS, Suspect
from radiosim.radio.air_frame import LONGEST_US, STEP_US, with_step
from radiosim.scenario import Scenario
from radiosim.study.tune.period_pairs import periods_near
from radiosim.units import NS_PER_MS, NS_PER_US, ns_from_ms

Pair = tuple[str, str]

MOST_CURES = 3
"""Keys of one kind that are tried for one cause."""


def ideal(plan: Plan) -> tuple[Rx, tuple[Tx, ...]]:
    """Receiver and transmitters with ideal clocks."""
    return plan.rx._replace(ppb=0), tuple(unit._replace(ppb=0) for unit in plan.tx)


def pairs(scenario: Scenario) -> Iterator[Pair]:
    """Every two transmitters, in file order."""
    yield from combinations(scenario.transmitter, 2)


def both(plan: Plan, pair: Pair) -> tuple[Tx, Tx]:
    """Two transmitters as the plan has them."""
    first, second = (plan.tx[plan.streams.index(name)] for name in pair)
    return first, second


def windows_ns(plan: Plan, pair: Pair) -> int:
    """How near two schedules must come to spoil each other's frames, jitter and dither included,
    ns."""
    return reach_ns(*both(plan, pair))


def beats_by_drift(plan: Plan, pair: Pair) -> bool:
    """Whether two timer transmitters stay in each other's air time once they meet (facts 5)."""
    first, second = both(plan, pair)
    if first.pacing != TIMER or second.pacing != TIMER:
        return False
    if does_dither_part(first, second):
        return False
    return distance_from_multiple(first.period_ns, second.period_ns) < windows_ns(plan, pair)


def clear_periods_ms(case: Case, plan: Plan, pair: Pair) -> Iterator[int]:
    """Whole periods of the second transmitter that keep clear of all others and of every grid, its
    nearest first.

    Clear: twice the window away from every whole multiple, both ways round, and within half and
    double its period.
    """
    name = pair[1]
    own_ms, place = case.scenario.transmitter[name].period_ms, plan.streams.index(name)
    if own_ms is None:
        return
    rx, tx = ideal(plan)
    grids = named_grids(case.scenario, plan).values()
    others = [
        (plan.tx[plan.streams.index(other)].period_ns, windows_ns(plan, (other, name)))
        for other in case.scenario.transmitter
        if other != name
    ]
    for period_ms in periods_near(own_ms):
        period_ns = ns_from_ms(period_ms)
        distances = [
            (distance_from_multiple(period_ns, other_ns), window) for other_ns, window in others
        ]
        if any(distance < 2 * window for distance, window in distances):
            continue
        moved = (*tx[:place], tx[place]._replace(period_ns=period_ns), *tx[place + 1 :])
        if not any(can_starve(rx, moved, place, grid) for grid in grids):
            yield period_ms


def _clear_cures(case: Case, plan: Plan, pair: Pair) -> Iterator[Overrides]:
    """Other periods of the second transmitter, then of the first; then dither of either."""
    for one in (pair, (pair[1], pair[0])):
        for period_ms in islice(clear_periods_ms(case, plan, one), MOST_CURES):
            yield (f"transmitter.{one[1]}.period_ms={period_ms}",)
    for name in (pair[1], pair[0]):
        yield from dithered(case, name, meeting_ns(*both(plan, pair)))


WIDELY = 2
"""Spans of phases that meet by which a cure dithers: the next frame meets with a quarter."""
DITHER_STEP_MS = 0.1


def dithered(case: Case, name: str, meets_ns: int) -> Iterator[Overrides]:
    """Periods drawn so widely that frames which met come apart at once, if they can be (rule J0).

    Half a period at most: then all phases are drawn afresh, frame by frame.
    """
    unit, meets_ms = case.scenario.transmitter[name], meets_ns / NS_PER_MS
    if unit.period_ms is None:
        return
    most_ms = unit.period_ms / 2
    wide_ms = math.ceil(WIDELY * meets_ms / DITHER_STEP_MS) * DITHER_STEP_MS
    dither_ms = min(wide_ms, most_ms)
    if meets_ms <= dither_ms and dither_ms + unit.jitter_ms < unit.period_ms:
        yield (f"transmitter.{name}.dither_ms={dither_ms:.4g}",)


def without(name: str, faults: int) -> Overrides:
    """A transmitter that is switched off at once, besides as many faults."""
    fault = f'{{at_s=0,kind="power_off",unit="{name}"}}'
    return (f"fault[{faults}]={fault}",)


def longest_gap(case: Case, pair: Pair) -> str:
    """The stream of a pair that waited longest for a value."""
    streams = case.summary.figures.stream
    return max(pair, key=lambda name: streams[name].gap_ms.max)


def other_of(pair: Pair, name: str) -> str:
    """The other of two."""
    return pair[1] if name == pair[0] else pair[0]


def ms(ns: int) -> str:
    """A span in ms, three digits."""
    return f"{ns / NS_PER_MS:.3g}"


MEASURE = (
    "let both run for an hour on the bench, log the instant of every read, and look at the longest "
    "gap, not at the share of frames"
)


_NO_MULTIPLE = (
    "no period of the other's, nor near a multiple of it: near ones meet just as equal ones do"
)
_NO_PERIOD = (
    "no whole period from half to double is clear of the others: a random number in the program "
    "draws every period anew"
)


def clocks_beat(case: Case) -> Iterator[Suspect]:
    """Pairs whose periods are within a + b + jitter of a multiple of one another."""
    scenario, plan = case.scenario, case.plan
    for pair in pairs(scenario):
        streams = [case.summary.figures.stream[name] for name in pair]
        if not beats_by_drift(plan, pair) or not any(s.lost_collision for s in streams):
            continue
        name = longest_gap(case, pair)
        other = other_of(pair, name)
        first, second = (scenario.transmitter[unit].period_ms for unit in pair)
        cures = tuple(_clear_cures(case, plan, pair))
        yield Suspect(
            what=f"the clocks of {pair[0]} and {pair[1]} drift into each other, and then one frame "
            "after another meets",
            where=f"transmitter.{pair[1]}.period_ms",
            # A unit that is switched off makes a hole of its own, beside which others look small.
            drill=WITHOUT_FAULTS if scenario.fault else (),
            why=f"periods of {first:g} and {second:g} ms are less than {ms(windows_ns(plan, pair))}"
            " ms (both frames, acknowledgements and jitter) from a whole multiple of one another; "
            f"{other} silent leaves {name} its values{_said(scenario)}",
            figure=f"stream.{name}.gap_ms.max",
            removed=without(other, 0),
            cures=cures,
            advice=_NO_PERIOD if cures and "dither" in cures[0][0] else _NO_MULTIPLE,
            measure=MEASURE,
        )


def _said(scenario: Scenario) -> str:
    return " (the scenario's own faults left out)" if scenario.fault else ""


def equal_retries(case: Case) -> Iterator[Suspect]:
    """Pairs whose retry delays are too close for their frames to come apart."""
    scenario, plan = case.scenario, case.plan
    for pair in pairs(scenario):
        units = [scenario.transmitter[name] for name in pair]
        window_us = window_ns(*both(plan, pair)) / NS_PER_US
        delays_us = [unit.retry_delay_us for unit in units]
        is_close = abs(delays_us[0] - delays_us[1]) < window_us
        if not is_close or any(u.acknowledge is not True or not u.retry_limit for u in units):
            continue
        name = _most_given_up(case, pair)
        figures = case.summary.figures.stream[name]
        if not figures.retries_used_up or not figures.lost_collision:
            continue
        cures = tuple(_apart_cures(case, plan, pair))
        if not cures:
            continue
        steps = int(window_us // STEP_US) + 1
        yield Suspect(
            what=f"{pair[0]} and {pair[1]} retry after the same delay, so that frames which "
            "collided collide again",
            where=f"transmitter.{pair[1]}.retry_delay_us",
            why=f"delays of {with_step(delays_us[0])} and {with_step(delays_us[1])}; the frames "
            "come apart only "
            f"from {window_us:.0f} us on; {name} used up "
            f"all retries {counted(figures.retries_used_up, 'time')}",
            figure=f"stream.{name}.retries_used_up",
            removed=cures[0],
            cures=cures,
            advice=f"delays at least {steps} steps of {STEP_US} us from one another",
            measure="count the frames that each transmitter drops, its retries used up, while "
            "both run",
        )


def _apart_cures(case: Case, plan: Plan, pair: Pair) -> Iterator[Overrides]:
    """Steps of the second transmitter, then of the first, that are clear of all others' delays."""
    for one in (pair, (pair[1], pair[0])):
        yield from islice(_clear_delays(case, plan, one[1]), MOST_CURES)


def _clear_delays(case: Case, plan: Plan, name: str) -> Iterator[Overrides]:
    units = case.scenario.transmitter
    own_us = units[name].retry_delay_us
    others = [
        (unit.retry_delay_us, window_ns(*both(plan, (other, name))) / NS_PER_US)
        for other, unit in units.items()
        if other != name and unit.acknowledge is True and unit.retry_limit
    ]
    # Longer ones first: a shorter delay may be too short for its own acknowledgement.
    delays = sorted(range(STEP_US, LONGEST_US + 1, STEP_US), key=lambda us: (us < own_us, us))
    for delay_us in delays:
        if all(abs(delay_us - other_us) >= window_us for other_us, window_us in others):
            yield (f"transmitter.{name}.retry_delay_us={delay_us}",)


def _most_given_up(case: Case, pair: Pair) -> str:
    return max(pair, key=lambda name: case.summary.figures.stream[name].retries_used_up)


JITTER_MS = 1.0
"""What a loop that also reads sticks easily has; common practice, no source."""
SHARE = 0.25
"""Largest share of a period that jitter may take."""


def assumed_jitter(case: Case) -> Iterator[Suspect]:
    """Pairs that beat, both without jitter."""
    scenario, plan = case.scenario, case.plan
    for pair in pairs(scenario):
        units = [scenario.transmitter[name] for name in pair]
        if not beats_by_drift(plan, pair) or any(unit.jitter_ms for unit in units):
            continue
        name = longest_gap(case, pair)
        period_ms = min(unit.period_ms or JITTER_MS for unit in units)
        jitter_ms = min(JITTER_MS, SHARE * period_ms)
        given = tuple(f"transmitter.{unit}.jitter_ms={jitter_ms:g}" for unit in pair)
        yield Suspect(
            what=f"{pair[0]} and {pair[1]} are assumed to sample without jitter, and the longest "
            "gap hangs on it",
            where=f"transmitter.{pair[1]}.jitter_ms",
            why=f"{jitter_ms:g} ms of jitter scatter the frames of a burst; this is a guess, and "
            "no cure",
            figure=f"stream.{name}.gap_ms.max",
            removed=given,
            cures=(),
            advice="measure the jitter and put it into the scenario "
            "(transmitter.NAME.jitter_ms); do "
            "not rely on it",
            measure="toggle a pin at each sample: the longest time between two edges less the "
            "shortest is twice the jitter at most",
        )


STARVING = 0.9
"""Share of samples read below which a stream counts as starved here."""
LOST = 0.05
"""Share of attempts that must have met the other's frames or acknowledgements."""
MUCH = 0.1
"""Duty cycle from which on a transmitter takes much of the air."""


def starved(case: Case) -> Iterator[Suspect]:
    """Streams that lose much to collisions with one other that they do not drift into."""
    scenario, plan = case.scenario, case.plan
    for pair in pairs(scenario):
        if beats_by_drift(plan, pair):
            continue
        for name in pair:
            figures = case.summary.figures.stream[name]
            met = figures.lost_collision + figures.lost_deaf
            is_starved = (figures.delivery_ratio or 0.0) < STARVING and figures.attempts
            if not is_starved or met < LOST * figures.attempts:
                continue
            other = other_of(pair, name)
            if case.summary.figures.stream[other].duty_cycle < MUCH:
                continue
            unit = scenario.transmitter[other]
            key, pace_ms = "period_ms", unit.period_ms
            if pace_ms is None:
                key, pace_ms = "pause_ms", unit.pause_ms
            slower = () if pace_ms is None else ((f"transmitter.{other}.{key}={2 * pace_ms:g}",),)
            yield Suspect(
                what=f"{other} takes so much of the air that {name} starves beside it",
                where=f"transmitter.{other}",
                why=f"{met} of {figures.attempts} attempts of {name} met {other}'s frames or their "
                "acknowledgements",
                figure=f"stream.{name}.delivery_ratio",
                removed=without(other, len(scenario.fault)),
                cures=slower,
                advice=f"{other} may send less often, shorter frames, or at a faster bit rate",
                measure=f"count {name}'s frames with {other} switched off and on",
                better="more",
            )
