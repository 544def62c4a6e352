"""Gaps of a stream as a curve: how long one of so many is, logged and in simulated logs."""

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from radiosim.bench_log.lives import counts_of
from radiosim.bench_log.records import RECEIVER, Event, Records, UnitLog, of_event
from radiosim.scenario import Scenario
from radiosim.study.fit.figure import FEWEST, Values, Window
from radiosim.study.fit.log_figures import judged_rows

PARTS = (0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.98, 0.99, 0.995, 0.998, 0.999, 1.0)
"""Shares of gaps that are no longer."""
_PREDICTED = 0.025, 0.975


class GapCurve(Struct, frozen=True, kw_only=True):
    """Of one stream; all in ms, one number for each share."""

    stream: str
    gaps: int
    """Logged."""
    shares: tuple[float, ...]
    logged: tuple[float, ...]
    low: tuple[float, ...]
    """95 % of simulated logs lie from here, share by share."""
    high: tuple[float, ...]


def gap_values(scenario: Scenario, log: UnitLog, window: Window) -> dict[str, float]:
    """Of a receiver's log the gaps at each share, beside its figures."""
    rows = judged_rows(log, tuple(scenario.transmitter), window)
    return {
        _key(name, k): value
        for number, name in enumerate(scenario.transmitter)
        if len(gaps := gaps_ms(rows, number)) >= FEWEST
        for k, value in enumerate(_at_shares(gaps))
    }


def gap_curves(
    scenario: Scenario, logs: Sequence[UnitLog], window: Window, simulated: Sequence[Values]
) -> Iterator[GapCurve]:
    """Of each stream of which the log and simulated ones have enough."""
    for log in logs:
        if log.unit != RECEIVER:
            continue
        rows = judged_rows(log, tuple(scenario.transmitter), window)
        for number, name in enumerate(scenario.transmitter):
            gaps = gaps_ms(rows, number)
            keys = [_key(name, k) for k in range(len(PARTS))]
            there = [[one[key] for key in keys] for one in simulated if keys[0] in one]
            if len(gaps) < FEWEST or not there:
                continue
            low, high = np.quantile(np.array(there), _PREDICTED, axis=0)
            yield GapCurve(
                stream=name,
                gaps=len(gaps),
                shares=PARTS,
                logged=tuple(_at_shares(gaps)),
                low=tuple(low.tolist()),
                high=tuple(high.tolist()),
            )


def gaps_ms(rows: Records, number: int) -> npt.NDArray[np.float64]:
    """Times from one new frame of a stream to the next."""
    reads = of_event(rows, Event.READ, number)
    if len(reads) < 2:
        return np.zeros(0)
    counts = counts_of(reads)
    is_new = np.diff(np.maximum.accumulate(counts), prepend=counts[0] - 1) > 0
    found: npt.NDArray[np.float64] = np.diff(reads["t_us"][is_new]) / 1000
    return found


def _at_shares(gaps: npt.NDArray[np.float64]) -> list[float]:
    found: list[float] = np.quantile(gaps, PARTS, method="inverted_cdf").tolist()
    return found


def _key(name: str, place: int) -> str:
    return f"gap.{name}.{place}"
