"""Rows of a log from instants: of any event, and of passes, as a probe counts them."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from radiosim.bench_log.records import RECORD, Event, Records

PASSES = 50
"""Passes that one record counts."""
Instants = npt.NDArray[np.int64]


def rows_of(at: Instants, event: Event, stream: int, value: Instants) -> Records:
    """Records at instants of whatever unit; values to 16 bits."""
    found = np.zeros(len(at), RECORD)
    found["t_us"], found["event"], found["stream"] = at, event, stream
    found["value"] = np.asarray(value, np.int64) & 0xFFFF
    return found


def pass_rows(starts: Instants, firsts: Sequence[int], units_a_us: float) -> list[Records]:
    """Records of passes that begin at `starts`: the first after each of `firsts`, then one after
    every fifty, and one of the longest of them.

    `units_a_us`: of the instants, such as 1000 of real ns; the longest is in us of the unit's
    clock.
    """
    cuts = np.searchsorted(starts, np.array(firsts, np.int64))
    return [
        part
        for life in np.split(starts, cuts)
        if len(life)
        for part in (
            rows_of(life[:1], Event.PASS, 0, np.zeros(1, np.int64)),
            *_of_fifties(life, units_a_us),
        )
    ]


def _of_fifties(starts: Instants, units_a_us: float) -> tuple[Records, ...]:
    whole = (len(starts) - 1) // PASSES
    if whole < 1:
        return ()
    ends = starts[PASSES : whole * PASSES + 1 : PASSES]
    spans = np.diff(starts)[: whole * PASSES].reshape(whole, PASSES)
    longest_us = np.floor(spans.max(axis=1) / units_a_us).astype(np.int64)
    return (
        rows_of(ends, Event.PASS, 0, np.full(whole, PASSES)),
        rows_of(ends, Event.LONGEST, 0, np.minimum(longest_us, 0xFFFF)),
    )
