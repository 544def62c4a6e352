"""Figures of logs, the same of those of the bench and of those that were simulated."""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct

from radiosim.bench_log.estimates import (
    Estimate,
    LossRuns,
    loss_runs,
    mean,
    period_us,
    seen_of,
    spread_us,
)
from radiosim.bench_log.lives import counts_of
from radiosim.bench_log.records import (
    ACKNOWLEDGED,
    RECEIVER,
    Event,
    Records,
    UnitLog,
    of_event,
)
from radiosim.scenario import Scenario
from radiosim.scenario.structs.transmitter_table import Transmitter

SETTLED_US = 1_000_000
"""After the last stream's first frame, as the bench test sheet has it."""
FEWEST = 60
"""Frames of a stream below which only their number is a figure."""


class Figure(Struct, frozen=True, kw_only=True):
    """One number of a log."""

    key: str
    """Names it: letters, digits and dots."""
    of: str
    """The unit or stream."""
    what: str
    unit: str
    resolution: float
    value: float
    estimate: Estimate | None = None
    """The same with an interval, where one follows from the log alone."""


class Window(Struct, frozen=True, kw_only=True):
    """The part of each unit's log that is judged, on its own clock."""

    skipped_us: int
    """After SETTLED_US."""
    length_us: int


def whole_window(logs: Sequence[UnitLog], streams: Sequence[str]) -> Window | None:
    """All of the longest life that is logged by every unit; None if that is too short."""
    lengths = [int(log.longest["t_us"][-1]) - begin_us(log, streams) for log in logs]
    if not lengths or min(lengths) <= 0:
        return None
    return Window(skipped_us=0, length_us=min(lengths))


def begin_us(log: UnitLog, streams: Sequence[str]) -> int:
    """From when a unit's longest life is judged: all streams that it logs have begun."""
    life = log.longest
    event = Event.READ if log.unit == RECEIVER else Event.SAMPLE
    firsts = [
        int(rows["t_us"][0])
        for number in range(len(streams))
        if len(rows := of_event(life, event, number))
    ]
    return max(firsts, default=int(life["t_us"][0])) + SETTLED_US


def figures_of(scenario: Scenario, logs: Sequence[UnitLog], window: Window) -> dict[str, Figure]:
    """Every figure that the logs have, by its key."""
    found: dict[str, Figure] = {}
    for log in logs:
        rows = judged_rows(log, tuple(scenario.transmitter), window)
        figures = (
            _of_receiver(scenario, rows, window)
            if log.unit == RECEIVER
            else _of_transmitter(scenario, log.unit, rows)
        )
        found |= {figure.key: figure for figure in figures}
    return found


def judged_rows(log: UnitLog, streams: Sequence[str], window: Window) -> Records:
    """The records of a unit's longest life inside the window."""
    life, begin = log.longest, begin_us(log, streams) + window.skipped_us
    inside = (life["t_us"] >= begin) & (life["t_us"] < begin + window.length_us)
    found: Records = life[inside]
    return found


def losses_of(rows: Records, number: int) -> LossRuns | None:
    """Losses of a stream by its counter; None of too few frames."""
    reads = of_event(rows, Event.READ, number)
    return loss_runs(seen_of(counts_of(reads))) if len(reads) >= FEWEST else None


def _of_receiver(scenario: Scenario, rows: Records, window: Window) -> Iterator[Figure]:
    seconds = window.length_us / 1e6
    for number, (name, unit) in enumerate(scenario.transmitter.items()):
        reads = of_event(rows, Event.READ, number)
        yield Figure(
            key=f"reads.{name}",
            of=name,
            what="frames read",
            unit="/s",
            resolution=0.01,
            value=len(reads) / seconds,
        )
        if len(reads) < FEWEST:
            continue
        counts = counts_of(reads)
        is_new = np.diff(np.maximum.accumulate(counts), prepend=counts[0] - 1) > 0
        new = reads[is_new]
        runs = loss_runs(seen_of(counts))
        yield Figure(
            key=f"missing.{name}",
            of=name,
            what="frames missing",
            unit="%",
            resolution=0.01,
            value=100 * runs.share.value,
            estimate=_scaled(runs.share, 100),
        )
        yield Figure(
            key=f"longest_gap.{name}",
            of=name,
            what="longest gap",
            unit="ms",
            resolution=0.1,
            value=float(np.diff(new["t_us"]).max()) / 1000,
        )
        found = period_us(counts[is_new], new["t_us"], adds_up=_adds_up(unit))
        if found is not None:
            yield Figure(
                key=f"period.{name}",
                of=name,
                what="period on the receiver's clock",
                unit="ms",
                resolution=0.0001,
                value=found.value / 1000,
                estimate=_scaled(found, 1 / 1000),
            )
    yield from _of_passes(rows)


def _of_passes(rows: Records) -> Iterator[Figure]:
    passes, longest = of_event(rows, Event.PASS), of_event(rows, Event.LONGEST)
    if len(passes) < 3:
        return
    each = np.diff(passes["t_us"]) / np.maximum(passes["value"][1:], 1) / 1000
    middle = mean(each)
    yield Figure(
        key="pass.receiver",
        of=RECEIVER,
        what="loop time",
        unit="ms",
        resolution=0.001,
        value=middle.value,
        estimate=middle,
    )
    if len(longest):
        yield Figure(
            key="longest_pass.receiver",
            of=RECEIVER,
            what="longest pass",
            unit="ms",
            resolution=0.001,
            value=float(longest["value"].max()) / 1000,
        )


def _adds_up(unit: Transmitter) -> bool:
    """Whether one late sample makes all later ones late (rules A2, A3 and J0)."""
    return unit.pacing != "timer" or unit.dither_ms > 0


def _of_transmitter(scenario: Scenario, name: str, rows: Records) -> Iterator[Figure]:
    number = tuple(scenario.transmitter).index(name)
    samples = of_event(rows, Event.SAMPLE, number)
    done = of_event(rows, Event.DONE, number)
    if len(samples) >= FEWEST:
        counts = counts_of(samples)
        each = np.diff(samples["t_us"])[np.diff(counts) == 1] / 1000
        if not _adds_up(scenario.transmitter[name]):
            spread = _scaled(spread_us(counts, samples["t_us"]), 1 / 1000)
            yield Figure(
                key=f"spread.{name}",
                of=name,
                what="spread of samples about their grid",
                unit="ms",
                resolution=0.001,
                value=spread.value,
                estimate=spread,
            )
        elif len(each):
            yield Figure(
                key=f"longest_period.{name}",
                of=name,
                what="longest time from sample to sample",
                unit="ms",
                resolution=0.001,
                value=float(each.max()),
            )
    if len(done) >= FEWEST:
        retries = (done["value"] & (ACKNOWLEDGED - 1)).astype(float)
        if scenario.transmitter[name].acknowledge is True:
            yield Figure(
                key=f"retries.{name}",
                of=name,
                what="retries a frame",
                unit="",
                resolution=0.001,
                value=float(retries.mean()),
                estimate=mean(retries),
            )


def _scaled(found: Estimate, by: float) -> Estimate:
    return Estimate(value=found.value * by, low=found.low * by, high=found.high * by)


def values_of(figures: Mapping[str, Figure]) -> dict[str, float]:
    """The numbers alone."""
    return {key: figure.value for key, figure in figures.items()}
