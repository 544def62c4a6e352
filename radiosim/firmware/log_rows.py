"""Rows of a unit's log from instants of a start: its counts, its own clock from each boot."""

from collections.abc import Sequence

import numpy as np

from radiosim.bench_log.lives import WRAP_US
from radiosim.bench_log.record_rows import Instants, rows_of
from radiosim.bench_log.records import Event, Records
from radiosim.engine.plan import Plan, fault_spans_of
from radiosim.engine.plan_rows import PROGRAM_STARTS
from radiosim.engine.plan_units import RECEIVER
from radiosim.scenario import Scenario
from radiosim.trace import Table
from radiosim.vehicle.program_fold import program_steps


def first_passes_ns(plan: Plan) -> list[int]:
    """When the receiver's program begins to turn round, after each of its boots."""
    return [step.at_ns for step in program_steps(plan) if step.kind == PROGRAM_STARTS]


def receiver_boots_ns(scenario: Scenario, plan: Plan) -> list[int]:
    """When each boot of the receiver begins: power comes, or a reset or a brown-out lets it go."""
    spans = fault_spans_of(scenario, RECEIVER)
    freed = sorted([0, *(s.until_ns for s in spans), *(b.until_ns for b in plan.brownouts)])
    found = [max(at for at in freed if at <= first) for first in first_passes_ns(plan)]
    return list(dict.fromkeys(found))


def frame_counters(numbers: Table, frames: Table, boots: Sequence[int]) -> Instants:
    """What a transmitter counts frames as: from 0 at each boot."""
    firsts = np.searchsorted(frames["sampled_ns"], np.sort(np.array([0, *boots], np.int64)))
    counts = np.asarray(numbers, np.int64)
    found: Instants = counts - firsts[np.searchsorted(firsts, counts, side="right") - 1]
    return found


def transmitter_boots_ns(plan: Plan, number: int) -> list[int]:
    """When a transmitter's program begins, after each of its boots."""
    return [s.at_ns for s in plan.steps if s.unit == number and s.kind == PROGRAM_STARTS]


def on_its_clock(
    parts: Sequence[Records], boots: Sequence[int], ppb: int, stamp: int, until_ns: int
) -> Records:
    """All records in order, in microseconds of the unit's clock since its latest boot."""
    begins = sorted(boots) or [0]
    all_of = list(parts)
    for event, half in ((Event.BOOT, stamp >> 16), (Event.STAMP, stamp & 0xFFFF)):
        all_of.append(rows_of(np.array(begins, np.int64), event, 0, np.full(len(begins), half)))
    rows = np.concatenate(all_of)
    rows = rows[(rows["t_us"] < until_ns) & (rows["t_us"] >= begins[0])]
    first = np.isin(rows["event"], (Event.BOOT, Event.STAMP))
    rows = rows[np.lexsort((rows["event"], ~first, rows["t_us"]))]
    since = np.array(begins)[np.searchsorted(begins, rows["t_us"], side="right") - 1]
    rows["t_us"] = own_us(rows["t_us"] - since, ppb) % WRAP_US
    return rows


def own_us(spans_ns: Instants, ppb: int) -> Instants:
    """Real spans as a clock counts them whose own are `ppb` too long, in whole us."""
    found: Instants = np.floor(spans_ns / ns_a_us(ppb)).astype(np.int64)
    return found


def ns_a_us(ppb: int) -> float:
    """Real ns in one us of such a clock."""
    return 1000 * (1 + ppb / 1e9)
