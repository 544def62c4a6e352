"""Figures of a receiver's log."""

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from radiosim.bench_log.estimates import (
    Estimate,
    LossRuns,
    line,
    loss_runs,
    mean,
    period_us,
    run_length,
    seen_of,
)
from radiosim.bench_log.lives import counts_of
from radiosim.bench_log.records import RECEIVER, Event, Records, UnitLog, of_event
from radiosim.scenario import Scenario
from radiosim.study.fit.figure import FEWEST, Figure, Window, clock_off, scaled

FEWEST_BLOCKS = 20
"""Of passes, below which a line through them says nothing."""
FEWEST_RUNS = 5
"""Of losses, below which their mean length says nothing."""


def losses_of(rows: Records, number: int) -> LossRuns | None:
    """Losses of a stream by its counter; None of too few frames."""
    reads = of_event(rows, Event.READ, number)
    return loss_runs(seen_of(counts_of(reads))) if len(reads) >= FEWEST else None


def receiver_figures(
    scenario: Scenario, log: UnitLog, rows: Records, window: Window
) -> Iterator[Figure]:
    """Figures of the receiver's log; `rows`: its records inside the window."""
    seconds = window.length_us / 1e6
    # A wire is of one stream, a probe tells of all that it is called for.
    is_logged = len(of_event(rows, Event.READ)) > 0 and not log.is_real_time
    for number, name in enumerate(scenario.transmitter):
        reads = of_event(rows, Event.READ, number)
        if is_logged or len(reads):
            yield _of_number(name, reads, seconds)
        if len(reads) >= FEWEST:
            yield from _of_stream(scenario, log, name, reads)
    for name in window.failsafes:
        number = tuple(scenario.transmitter).index(name)
        trips = of_event(rows, Event.FAILSAFE, number)
        yield Figure(
            key=f"trips.{name}",
            of=name,
            what="failsafe trips",
            unit="",
            resolution=1,
            value=float(np.count_nonzero(trips["value"])),
        )
    yield from _of_boot(log)
    yield from _of_passes(rows)
    yield from _of_reading(rows)


def _of_number(name: str, reads: Records, seconds: float) -> Figure:
    return Figure(
        key=f"reads.{name}",
        of=name,
        what="frames read",
        unit="/s",
        resolution=0.01,
        value=len(reads) / seconds,
    )


def _of_stream(scenario: Scenario, log: UnitLog, name: str, reads: Records) -> Iterator[Figure]:
    """What the counters and instants of a stream's frames show."""
    counts = counts_of(reads)
    is_new = np.diff(np.maximum.accumulate(counts), prepend=counts[0] - 1) > 0
    new, seen = reads[is_new], seen_of(counts)
    lost = loss_runs(seen).share
    yield Figure(
        key=f"missing.{name}",
        of=name,
        what="frames missing",
        unit="%",
        resolution=0.01,
        value=100 * lost.value,
        estimate=scaled(lost, 100),
    )
    yield Figure(
        key=f"longest_gap.{name}",
        of=name,
        what="longest gap",
        unit="ms",
        resolution=0.1,
        value=float(np.diff(new["t_us"]).max()) / 1000,
    )
    yield from _of_runs(name, seen)
    found = period_us(counts[is_new], new["t_us"], adds_up=scenario.transmitter[name].adds_up)
    if found is not None:
        yield Figure(
            key=f"period.{name}",
            of=name,
            what="period on the receiver's clock" if not log.is_real_time else "period",
            unit="ms",
            resolution=0.0001,
            value=found.value / 1000,
            estimate=scaled(found, 1 / 1000),
            clock_off=0.0 if log.is_real_time else clock_off(scenario.receiver),
        )


def _of_passes(rows: Records) -> Iterator[Figure]:
    passes, longest = of_event(rows, Event.PASS), of_event(rows, Event.LONGEST)
    passes = passes[passes["value"] > 0]
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
        slack=1,
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
            slack=1,
            value=float(longest["value"].max()) / 1000,
        )


def _of_boot(log: UnitLog) -> Iterator[Figure]:
    """Of the first boot, which is known to be one with power: a reset may boot otherwise."""
    found = boots_ms(log)
    if log.lives[0]["event"][0] == Event.BOOT and found:
        value = found[0]
        yield Figure(
            key="boot.receiver",
            of=RECEIVER,
            what="boot to first pass",
            unit="ms",
            resolution=0.01,
            value=value,
            estimate=Estimate(value=value, low=value - 0.001, high=value + 0.001),
        )


def boots_ms(log: UnitLog) -> list[float]:
    """From each boot that is logged to its first pass, by the unit's clock."""
    found = []
    for life in log.lives:
        firsts = of_event(life, Event.PASS)
        if life["event"][0] == Event.BOOT and len(firsts) and firsts["value"][0] == 0:
            found.append(float(firsts["t_us"][0] - life["t_us"][0]) / 1000)
    return found


def _of_reading(rows: Records) -> Iterator[Figure]:
    """How much longer a pass is for each frame that it reads: a line through blocks of passes."""
    passes, reads = of_event(rows, Event.PASS), of_event(rows, Event.READ)["t_us"]
    if len(passes) < FEWEST_BLOCKS:
        return
    counts = np.diff(np.searchsorted(reads, passes["t_us"])) / passes["value"][1:]
    each_us = np.diff(passes["t_us"]) / passes["value"][1:]
    if np.ptp(counts) == 0:
        return
    found = line(counts, each_us)[0]
    yield Figure(
        key="reading.receiver",
        of=RECEIVER,
        what="time that reading a frame takes",
        unit="us",
        resolution=0.1,
        value=found.value,
        estimate=found,
    )


def _of_runs(name: str, seen: npt.NDArray[np.bool_]) -> Iterator[Figure]:
    """Mean length of losses in a row, where there are some."""
    lost = ~seen
    begins = int(np.count_nonzero(lost[1:] & ~lost[:-1])) + int(lost[0])
    if begins < FEWEST_RUNS:
        return
    found = run_length(seen)
    yield Figure(
        key=f"loss_run.{name}",
        of=name,
        what="frames missing in a row, mean",
        unit="",
        resolution=0.01,
        value=int(lost.sum()) / begins,
        estimate=found,
    )
