"""What studies print as an interval or a range, and whether what is true lies in it.

What is true comes from a long run, starts weighted (that their weights are right is shown in
tests/reference/test_beat_starts.py). A study is a seed; it is as small as a
user would hardly make it, for few events are where intervals fail.
"""

import dataclasses
import functools
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from msgspec.structs import replace

from radiosim.measure.figures import figures_of, flat, start_figures
from radiosim.measure.intervals import FEWEST_WEIGHTED
from radiosim.measure.tally import Range, StreamTally, joined, pool_of, without_spreads
from radiosim.registers.fault_register import FAULT_KINDS
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.study.bench.counted_steps import calm, counted, counted_chapter, ordinary
from radiosim.study.bench.fault_steps import bench_work, fault_chapter
from radiosim.study.bench.step import STARTS, Chapter, Prediction
from radiosim.study.distance import at_distance
from radiosim.study.drill.drill import DrillOptions, drill_failsafe
from radiosim.study.drill.trade_off import trade_off_of, trips_of
from radiosim.study.drill.work import Work
from radiosim.study.layout_change import layout_change
from radiosim.study.range import reach
from radiosim.study.rare import estimate_trips
from radiosim.study.starts import Narrow, simulate_starts, tallies_of, tally_of, until_narrow
from radiosim.study.tune.tuned import tune_scenario
from tests.study.coverage.scenarios import SCENARIOS

TRUE_SEED = 1_000_003
"""Of the long runs: that of no study."""
TOLD = 0.95
COUNT = 24
"""Starts of a study; a third of them may be placed on beats."""
Claim = tuple[str, float, bool]
"""What is claimed, how often such claims should hold, and whether this one does."""
Study = Callable[[str, int, int], Iterator[Claim]]
"""Claims of one study: name of its scenario, its seed, and starts of the long run."""


@functools.cache
def scenario_of(name: str, lines: tuple[str, ...] = ()) -> Scenario:
    """A scenario with some lines set."""
    return changed(SCENARIOS[name], lines)


@functools.cache
def true_figures(
    name: str, starts: int, lines: tuple[str, ...] = ()
) -> tuple[dict[str, float], dict[str, float]]:
    """Figures of a long run, and the mean of each figure over its starts."""
    scenario = scenario_of(name, lines).replace(seed=TRUE_SEED)
    all_starts = Range(first=0, count=starts)
    pools, sums = [], Counter[str]()
    for start in range(starts):
        tally = tally_of(scenario, "auto", start)
        weight = all_starts.weight(tally)
        pools.append(pool_of(without_spreads(tally), weight, {}))
        for path, value in start_figures(scenario, tally).items():
            sums[path] += weight * value
    pool = joined(pools)
    weights = sum(pool.weights)
    return flat(figures_of(scenario, pool)), {path: sums[path] / weights for path in sums}


def _covers(interval: Any, truth: float) -> bool:
    return isinstance(interval, tuple) and interval[0] <= truth <= interval[1]


def run_claims(name: str, seed: int, starts: int, count: int = COUNT) -> Iterator[Claim]:
    """Intervals of shares, ratios and trips that `run` prints."""
    truth, _ = true_figures(name, starts)
    summary = simulate_starts(scenario_of(name).replace(seed=seed), count=count, workers=1)
    for stream, figures in summary.figures.stream.items():
        path = f"stream.{stream}"
        yield (
            "run: samples read",
            TOLD,
            _covers(figures.delivery_ratio_ci95, truth[f"{path}.delivery_ratio"]),
        )
        yield (
            "run: update rate",
            TOLD,
            _covers(figures.update_rate_hz_ci95, truth[f"{path}.update_rate_hz"]),
        )
        assert figures.failsafe is not None
        yield (
            f"run: trips of {stream}",
            TOLD,
            _covers(
                figures.failsafe.nuisance_per_hour_ci95, truth[f"{path}.failsafe.nuisance_per_hour"]
            ),
        )
    yield (
        "run: update rate of an output",
        TOLD,
        _covers(
            summary.figures.output["throttle"].update_rate_hz_ci95,
            truth["output.throttle.update_rate_hz"],
        ),
    )


def few_claims(name: str, seed: int, starts: int) -> Iterator[Claim]:
    """The same of the fewest starts that have an interval, weighted or not."""
    yield from run_claims(name, seed, starts, FEWEST_WEIGHTED)


def narrow_claims(name: str, seed: int, starts: int) -> Iterator[Claim]:
    """The interval at which `--narrow` stops."""
    path = "stream.drive.delivery_ratio"
    truth, _ = true_figures(name, starts)
    width = {"independent": 0.02, "beating": 0.03, "mixed": 0.05}[name]
    asked = Narrow(figure=path, half_width=width)
    found = until_narrow(scenario_of(name).replace(seed=seed), asked, 64)
    yield "run --narrow", TOLD, _covers(found.interval, truth[path])


RETRIED = (
    *(f"transmitter.{name}.acknowledge=true" for name in ("drive", "head")),
    *(f"transmitter.{name}.retry_limit=1" for name in ("drive", "head")),
)


def attempt_claims(name: str, seed: int, starts: int) -> Iterator[Claim]:
    """Attempts a frame, where there are retries."""
    truth, _ = true_figures(name, starts, RETRIED)
    scenario = scenario_of(name, RETRIED).replace(seed=seed)
    summary = simulate_starts(scenario, count=COUNT, workers=1)
    for stream, figures in summary.figures.stream.items():
        yield (
            "run: attempts a frame",
            TOLD,
            _covers(figures.attempts_per_frame_ci95, truth[f"stream.{stream}.attempts_per_frame"]),
        )


RARE_COUNT = {"independent": 20, "beating": 200, "mixed": 20}
"""Starts of an estimate: as many as it takes for most to be vouched for."""


def rare_claims(name: str, seed: int, starts: int) -> Iterator[Claim]:
    """Rates that splitting finds, where it vouches for them."""
    truth, _ = true_figures(name, starts)
    count = RARE_COUNT[name]
    found = estimate_trips(scenario_of(name).replace(seed=seed), "drive", count=count, workers=1)
    if found.trusted:
        rate = truth["stream.drive.failsafe.nuisance_per_hour"]
        yield "run --rare", TOLD, _covers(found.per_hour_ci95, rate)


LONGER = ("transmitter.drive.payload_bytes=20",)
CHANGED = ("delivery_ratio", "gap_ms.max")


def change_claims(name: str, seed: int, starts: int) -> Iterator[Claim]:
    """Differences that a change of layout makes."""
    old, new = (scenario_of(name, lines) for lines in ((), LONGER))
    found = layout_change(
        old.replace(seed=seed, starts=COUNT),
        new.replace(seed=seed, starts=COUNT),
        ("drive",),
        workers=1,
    )
    before, after = (true_figures(name, starts, lines)[1] for lines in ((), LONGER))
    for stream in ("drive", "head"):
        for figure in CHANGED:
            path = f"stream.{stream}.{figure}"
            # A figure that some start does not have is not compared.
            if path in found.figures:
                interval = found.figures[path].difference_ci95
                covers = _covers(interval, after[path] - before[path])
                yield f"layout: change of {figure}", TOLD, covers


MINUTES = 0.05


def bench_claims(name: str, seed: int, starts: int) -> Iterator[Claim]:
    """Predicted ranges of the bench test sheet, against one more power-on."""
    scenario = scenario_of(name).replace(seed=seed)
    quiet = calm(scenario, MINUTES)
    counts = [counted(quiet, "auto", ordinary(number)) for number in range(STARTS + 1)]
    yield from _predicted(counted_chapter(quiet, counts[:-1]), counted_chapter(quiet, counts[-1:]))
    work = bench_work(scenario, STARTS, "auto")
    kept = [k for k, drill in enumerate(work.drills) if drill.kind == "power_off"]
    work = _some(work, kept)
    shown = [work.drilled(number) for number in range(STARTS)]
    fresh = _some(bench_work(scenario.replace(seed=seed + TRUE_SEED), STARTS, "auto"), kept)
    yield from _predicted(fault_chapter(work, shown), fault_chapter(work, [fresh.drilled(0)]))


def _some(work: Work, kept: Sequence[int]) -> Work:
    """Some of the drills alone."""
    return dataclasses.replace(
        work,
        drills=tuple(work.drills[k] for k in kept),
        limits=tuple(work.limits[k] for k in kept),
    )


def _predicted(sheet: Chapter, measured: Chapter) -> Iterator[Claim]:
    ranges, values = _by_what(sheet), _by_what(measured)
    for where, predicted in ranges.items():
        value = values.get(where)
        if predicted.share is None or value is None or value.low is None or value.tries == 0:
            continue
        assert predicted.low is not None
        assert predicted.high is not None
        assert value.high is not None
        what = predicted.what if predicted.aspect == "value" else predicted.aspect
        # Of latencies a start this short has two, and the range is for each of them.
        for one in dict.fromkeys((value.low, value.high)):
            yield f"bench: {what}", predicted.share, predicted.low <= one <= predicted.high


def _by_what(chapter: Chapter) -> Mapping[tuple[str, str, str, str], Prediction]:
    return {
        (case.key, predicted.what, predicted.of, predicted.aspect): predicted
        for step in chapter.steps
        for case in step.cases
        for predicted in case.predicted
    }


HOURS, SURE = 0.2, 0.9
"""Simulated time of a trade-off; and what is asked, as a share of the true rate of a timeout."""
TOO_SHORT_MS = {"independent": 100.0, "beating": 700.0, "mixed": 140.0}
"""A timeout that has more trips than are asked for."""
SKIPPED = tuple(kind for kind in FAULT_KINDS if kind != "power_off")


@functools.cache
def true_trips(name: str, duration_s: float, starts: int) -> dict[float, float]:
    """Nuisance trips an hour of `drive` by timeout, in a long run of starts of that length."""
    scenario = replace(scenario_of(name).replace(seed=TRUE_SEED), duration_s=duration_s)
    count = max(30, round(starts * 8 / duration_s))
    found = [trips_of(scenario, start, "auto") for start in range(count)]
    return {
        point.timeout_ms: point.nuisance_per_hour
        for point in trade_off_of(scenario, found)["drive"]
    }


def failsafe_claims(name: str, seed: int, starts: int) -> Iterator[Claim]:
    """The shortest timeout that is said to trip seldom enough, where one is said."""
    scenario = scenario_of(name).replace(seed=seed)
    truth = true_trips(name, HOURS * 3600 / 6, starts)
    asked = SURE * truth[TOO_SHORT_MS[name]]
    options = DrillOptions(
        repeats=4,
        skip=SKIPPED,
        nuisance_per_hour=asked,
        reaction_ms=2_500,
        hours=HOURS,
        workers=1,
    )
    found = drill_failsafe(scenario, options)
    assert found.trade_off_s == 3600 * HOURS
    feasible = found.feasible_range["drive"]
    if feasible.shortest_ms is not None:
        yield "failsafe: shortest timeout", TOLD, truth[feasible.shortest_ms] <= asked
    for point in found.trade_off["drive"]:
        if point.timeout_ms in (TOO_SHORT_MS[name], 60.0):
            yield (
                "failsafe: trips",
                TOLD,
                _covers(point.nuisance_per_hour_ci95, truth[point.timeout_ms]),
            )


VARIED_MS = (50.0, 70.0, 90.0)


def tune_claims(name: str, seed: int, starts: int) -> Iterator[Claim]:
    """Points that are said to hold a limit which the best of them misses."""
    truth, _ = true_figures(name, starts)
    figure = "stream.drive.failsafe.nuisance_per_hour"
    limit = SURE * truth[figure]
    asked = f'requirement=[{{figure="{figure}", at_most={limit}}}]'
    scenario = scenario_of(name, (asked, f"starts={COUNT}")).replace(seed=seed)
    values = ",".join(f"{each:g}" for each in VARIED_MS)
    found = tune_scenario(
        scenario, scenario, vary=(f"failsafe.drive.timeout_ms={values}",), workers=1
    )
    yield "tune: a point that holds", TOLD, not found.ok


DELIVERED, PER_HOUR = 0.4, 1_000.0
RANGED = (
    "duration_s=20",
    'air.range={distance_m=10, path="log-distance", shadowing_db=0, fading="rayleigh"}',
)
JUDGED = 0.9
"""How often a limit must be judged, where that takes no luck."""
OF_LIMITS = ("stream.drive.delivery_ratio", "stream.drive.failsafe.nuisance_per_hour")
OF_RANGE = 6
"""Starts at each distance, as few as `range` takes unless asked otherwise."""


def _farthest_m(name: str, starts: int, holds: Callable[[Sequence[StreamTally]], bool]) -> float:
    """Up to which distance something holds of the starts of one stream, as described."""
    scenario = scenario_of(name, RANGED).replace(seed=TRUE_SEED)
    low, high = 1.0, 200.0
    while high / low > 1.01:
        middle = (low * high) ** 0.5
        there = at_distance(scenario, middle, 0.0)
        found = [tally.streams["drive"] for tally in tallies_of(there, range(starts), "auto")]
        low, high = (middle, high) if holds(found) else (low, middle)
    return low


@functools.cache
def true_limits_m(name: str, starts: int) -> dict[str, float]:
    """By figure: where half of all studies find that the worst of their starts misses; and where
    trips are more than is asked."""
    count = max(40, starts // 40)
    hours = count * scenario_of(name, RANGED).duration_s / 3600

    def is_delivered(found: Sequence[StreamTally]) -> bool:
        share = sum(of.read >= DELIVERED * of.sampled for of in found) / count
        return bool(share**OF_RANGE >= 0.5)

    def is_seldom(found: Sequence[StreamTally]) -> bool:
        trips = sum(of.failsafe.nuisance_trips for of in found if of.failsafe is not None)
        return trips <= PER_HOUR * hours and sum(of.read for of in found) > 0

    holds = (is_delivered, is_seldom)
    return {
        figure: _farthest_m(name, count, those)
        for figure, those in zip(OF_LIMITS, holds, strict=True)
    }


def range_claims(name: str, seed: int, starts: int) -> Iterator[Claim]:
    """From where to where a limit lies, with a path 6 dB worse to 6 dB better, where it is judged;
    that it is judged where no clocks beat, and nowhere said to hold where so few starts have not
    seen them do so."""
    delivered, seldom = OF_LIMITS
    asked = (
        f'requirement=[{{figure="{delivered}", at_least={DELIVERED}}}, '
        f'{{figure="{seldom}", at_most={PER_HOUR}}}]'
    )
    scenario = scenario_of(name, (*RANGED, asked)).replace(seed=seed, starts=OF_RANGE)
    for limit in reach(scenario, 4, workers=1).limits:
        figure = limit.requirement.split()[0]
        last = figure.split(".")[-1]
        low_m, high_m = limit.distance_m
        if name != "independent":
            # Where clocks beat, a worst start that meets one holds nothing at any distance.
            is_held = not limit.unjudged and high_m > 0
            yield f"range: no limit of {last} before a beat was seen", TOLD, not is_held
            continue
        yield f"range: limit of {last} is judged", JUDGED, not limit.unjudged
        if not limit.unjudged:
            truth_m = true_limits_m(name, starts)[figure]
            yield f"range: limit of {last}", TOLD, low_m <= truth_m <= high_m


STUDIES: Mapping[str, Study] = {
    "run": run_claims,
    "few": few_claims,
    "narrow": narrow_claims,
    "attempts": attempt_claims,
    "rare": rare_claims,
    "change": change_claims,
    "bench": bench_claims,
    "failsafe": failsafe_claims,
    "tune": tune_claims,
    "range": range_claims,
}
