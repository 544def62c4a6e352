"""Logs as the units of a simulated start would write them, each on its own clock."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from radiosim.bench_log.lives import WRAP_US
from radiosim.bench_log.records import ACKNOWLEDGED, RECEIVER, RECORD, Event, Records
from radiosim.engine.plan import Plan, plan_of
from radiosim.engine.plan_rows import PROGRAM_STARTS
from radiosim.firmware.all_passes import each_pass
from radiosim.trace import ACKNOWLEDGED as TAKEN
from radiosim.trace import KEPT, RETRIES_USED_UP, SENT, Table, Trace, value_reads
from radiosim.units import NS_PER_US
from radiosim.vehicle.program_fold import program_steps
from radiosim.vehicle.vehicle import run_vehicle

PASSES = 50
"""Passes that one record counts."""
Instants = npt.NDArray[np.int64]


def logs_of(
    trace: Trace, stamp: int = 0, units: Sequence[str] | None = None, *, has_acts: bool = True
) -> dict[str, Records]:
    """The records of some units, or of all: times as a 32-bit counter of microseconds shows them.

    A unit's counter begins at its boot and runs with its clock's error; a drift of that error
    (rule T7) is not in it. Counters of frames have 16 bits. Without `has_acts` nothing is there of
    failsafes and outputs, which take most of the time.
    """
    plan = plan_of(trace)
    asked = (*plan.streams, RECEIVER) if units is None else units
    return {
        name: _receiver(trace, plan, stamp, has_acts=has_acts)
        if name == RECEIVER
        else _transmitter(trace, plan, plan.streams.index(name), stamp)
        for name in asked
    }


def with_losses(records: Records, share: float, seed: int) -> Records:
    """The records without some that did not fit, in runs of ten, each told by a LOST record."""
    draws = np.random.default_rng(seed).random(-(-len(records) // 10)) < share
    is_lost = np.repeat(draws, 10)[: len(records)]
    is_lost &= ~np.isin(records["event"], (Event.BOOT, Event.STAMP))
    first_after = np.flatnonzero(np.diff(is_lost.astype(int)) == -1) + 1
    told = records[first_after].copy()
    ends = np.cumsum(is_lost)[first_after]
    told["event"], told["stream"] = Event.LOST, 0
    told["value"] = np.diff(np.concatenate([[0], ends]))
    merged = np.insert(records, first_after, told)
    keep = np.insert(~is_lost, first_after, True)
    found: Records = merged[keep]
    return found


def _transmitter(trace: Trace, plan: Plan, number: int, stamp: int) -> Records:
    frames, boots = trace.frames[trace.frames["stream"] == number], _boots(plan, number)
    done = frames[np.isin(frames["outcome"], (TAKEN, SENT, RETRIES_USED_UP))]
    values = np.maximum(done["attempts"] - 1, 0)
    values = values | np.where(done["outcome"] == TAKEN, ACKNOWLEDGED, 0)
    fresh = frames[frames["outcome"] != KEPT]
    parts = [
        _rows(fresh["sampled_ns"], Event.SAMPLE, number, _counters(fresh["frame"], frames, boots)),
        _rows(done["done_ns"], Event.DONE, number, values),
    ]
    return _on_its_clock(parts, boots, plan.tx[number].ppb, stamp, trace.duration_ns)


def _receiver(trace: Trace, plan: Plan, stamp: int, *, has_acts: bool) -> Records:
    parts = []
    for number in range(len(plan.streams)):
        rows, frames = value_reads(trace, number), trace.frames[trace.frames["stream"] == number]
        counters = _counters(rows["frame"], frames, _boots(plan, number))
        parts.append(_rows(rows["read_ns"], Event.READ, number, counters))
    parts += _acts(trace) if has_acts else []
    if not trace.scenario.receiver.interrupt:
        parts += _passes(trace, plan)
    boots = [step.at_ns for step in program_steps(plan) if step.kind == PROGRAM_STARTS]
    return _on_its_clock(parts, boots, plan.rx.ppb, stamp, trace.duration_ns)


def _boots(plan: Plan, number: int) -> list[int]:
    return [step.at_ns for step in plan.steps if step.unit == number and _begins(step.kind)]


def _counters(numbers: Table, frames: Table, boots: list[int]) -> Instants:
    """What a transmitter counts frames as: from 0 at each boot."""
    firsts = np.searchsorted(frames["sampled_ns"], np.sort(np.array([0, *boots], np.int64)))
    counts = np.asarray(numbers, np.int64)
    found: Instants = counts - firsts[np.searchsorted(firsts, counts, side="right") - 1]
    return found


def _acts(trace: Trace) -> list[Records]:
    """What the vehicle did: failsafes, and pulses of outputs."""
    parts, record = [], run_vehicle(trace)
    for number, stream in enumerate(record.streams):
        on = np.array([entry.at_ns for entry in stream.entries], np.int64)
        off = np.array(stream.left_ns, np.int64)
        parts.append(_rows(on, Event.FAILSAFE, number, np.ones_like(on)))
        parts.append(_rows(off, Event.FAILSAFE, number, np.zeros_like(off)))
    for number, (name, output) in enumerate(trace.scenario.output.items()):
        if output.kind != "servo":
            continue
        told = record.outputs[name].told
        told = told[np.isfinite(told["level"])]
        widths_us = np.rint(told["level"] / NS_PER_US).astype(np.int64)
        parts.append(_rows(told["at_ns"], Event.OUTPUT, number, widths_us))
    return parts


def _begins(kind: int) -> bool:
    return kind == PROGRAM_STARTS


def _passes(trace: Trace, plan: Plan) -> list[Records]:
    """A record after every fifty passes, and one of the longest of them, on the real clock."""
    starts = each_pass(plan, trace)
    whole = (len(starts) - 1) // PASSES
    if whole < 1:
        return []
    ends = starts[PASSES : whole * PASSES + 1 : PASSES]
    spans = np.diff(starts)[: whole * PASSES].reshape(whole, PASSES)
    longest_us = np.minimum(spans.max(axis=1) // 1000, 0xFFFF)
    return [
        _rows(ends, Event.PASS, 0, np.full(whole, PASSES)),
        _rows(ends, Event.LONGEST, 0, longest_us),
    ]


def _rows(at_ns: Instants | Table, event: Event, stream: int, value: Instants | Table) -> Records:
    """Records whose times are still real, in ns."""
    found = np.zeros(len(at_ns), RECORD)
    found["t_us"], found["event"], found["stream"] = at_ns, event, stream
    found["value"] = np.asarray(value, np.int64) & 0xFFFF
    return found


def _on_its_clock(
    parts: list[Records], boots: list[int], ppb: int, stamp: int, until_ns: int
) -> Records:
    """All records in order, in microseconds of the unit's clock since its latest boot."""
    begins = sorted(boots) or [0]
    for event, half in ((Event.BOOT, stamp >> 16), (Event.STAMP, stamp & 0xFFFF)):
        at_ns = np.array(begins, np.int64)
        parts.append(_rows(at_ns, event, 0, np.full(len(begins), half)))
    rows = np.concatenate(parts)
    rows = rows[(rows["t_us"] < until_ns) & (rows["t_us"] >= begins[0])]
    first = np.isin(rows["event"], (Event.BOOT, Event.STAMP))
    rows = rows[np.lexsort((rows["event"], ~first, rows["t_us"]))]
    since = np.array(begins)[np.searchsorted(begins, rows["t_us"], side="right") - 1]
    own_us = (rows["t_us"] - since) / (1 + ppb / 1e9) / 1000
    rows["t_us"] = np.floor(own_us).astype(np.int64) % WRAP_US
    return rows
