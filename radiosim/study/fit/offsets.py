"""How late frames are read beside an even grid, over a log's time: what the clock line leaves."""

from collections.abc import Iterator, Sequence

import numpy as np
from msgspec import Struct

from radiosim.bench_log.estimates import period_us
from radiosim.bench_log.lives import counts_of
from radiosim.bench_log.records import RECEIVER, Event, UnitLog, of_event
from radiosim.scenario import Scenario
from radiosim.study.fit.figure import FEWEST, Window
from radiosim.study.fit.log_figures import judged_rows

_BLOCKS = 60


class Offsets(Struct, frozen=True, kw_only=True):
    """Of one stream; a number for each block of frames one after the other."""

    stream: str
    at_s: tuple[float, ...]
    """The block's middle, from the beginning of what is judged."""
    median_ms: tuple[float, ...]
    """Beside the earliest of all."""
    low_ms: tuple[float, ...]
    high_ms: tuple[float, ...]


def offsets(scenario: Scenario, logs: Sequence[UnitLog], window: Window) -> Iterator[Offsets]:
    """Of each stream that is sent on a grid, and of which enough was read."""
    for log in logs:
        if log.unit != RECEIVER:
            continue
        rows = judged_rows(log, tuple(scenario.transmitter), window)
        for number, (name, unit) in enumerate(scenario.transmitter.items()):
            reads = of_event(rows, Event.READ, number)
            if len(reads) < FEWEST or unit.pacing != "timer":
                continue
            counts, t_us = counts_of(reads), reads["t_us"] - reads["t_us"][0]
            found = period_us(counts, t_us, adds_up=False)
            if found is None:
                continue
            rest_ms = (t_us - found.value * (counts - counts[0])) / 1000
            blocks = np.array_split(np.arange(len(reads)), min(_BLOCKS, len(reads)))
            rest_ms = rest_ms - rest_ms.min()
            yield Offsets(
                stream=name,
                at_s=tuple(float(t_us[block].mean()) / 1e6 for block in blocks),
                median_ms=tuple(float(np.median(rest_ms[block])) for block in blocks),
                low_ms=tuple(float(rest_ms[block].min()) for block in blocks),
                high_ms=tuple(float(rest_ms[block].max()) for block in blocks),
            )
