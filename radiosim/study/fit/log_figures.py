"""Figures of logs, the same of those of the bench and of those that were simulated."""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from radiosim.bench_log.estimates import mean, spread_us
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
from radiosim.study.fit.figure import FEWEST, SETTLED_US, Figure, Window, scaled
from radiosim.study.fit.receiver_figures import receiver_figures

_SILENCES = 20
"""Usual times from frame to frame without one at the end: its transmitter is off; our own choice.
"""


def whole_window(logs: Sequence[UnitLog], streams: Sequence[str]) -> Window | None:
    """All of the longest life that is logged by every unit; None if that is too short."""
    lengths = [end_us(log, streams) - begin_us(log, streams) for log in logs]
    if not lengths or min(lengths) <= 0:
        return None
    return Window(skipped_us=0, length_us=min(lengths))


def end_us(log: UnitLog, streams: Sequence[str]) -> int:
    """Until when a unit's longest life is judged: until the first stream is silent for good."""
    life = log.longest
    ends = [int(life["t_us"][-1])]
    event = Event.READ if log.unit == RECEIVER else Event.SAMPLE
    for number in range(len(streams)):
        at_us = of_event(life, event, number)["t_us"]
        if len(at_us) > 1:
            silent_us = max(SETTLED_US, _SILENCES * float(np.median(np.diff(at_us))))
            ends += [int(at_us[-1])] if ends[0] - at_us[-1] > silent_us else []
    return min(ends)


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
            receiver_figures(scenario, log, rows, window)
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


def _of_transmitter(scenario: Scenario, name: str, rows: Records) -> Iterator[Figure]:
    number = tuple(scenario.transmitter).index(name)
    samples = of_event(rows, Event.SAMPLE, number)
    done = of_event(rows, Event.DONE, number)
    if len(samples) >= FEWEST:
        counts = counts_of(samples)
        each = np.diff(samples["t_us"])[np.diff(counts) == 1] / 1000
        if not scenario.transmitter[name].adds_up:
            spread = scaled(spread_us(counts, samples["t_us"]), 1 / 1000)
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


def values_of(figures: Mapping[str, Figure]) -> dict[str, float]:
    """The numbers alone."""
    return {key: figure.value for key, figure in figures.items()}
