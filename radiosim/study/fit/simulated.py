"""Logs as the units of a simulated start would write them, each on its own clock."""

from collections.abc import Sequence

import numpy as np

from radiosim.bench_log.record_rows import pass_rows, rows_of
from radiosim.bench_log.records import ACKNOWLEDGED, RECEIVER, Event, Records
from radiosim.engine.plan import Plan, plan_of
from radiosim.firmware.all_passes import each_pass
from radiosim.firmware.log_rows import (
    first_passes_ns,
    frame_counters,
    ns_a_us,
    on_its_clock,
    receiver_boots_ns,
    transmitter_boots_ns,
)
from radiosim.trace import ACKNOWLEDGED as TAKEN
from radiosim.trace import KEPT, RETRIES_USED_UP, SENT, Trace, value_reads
from radiosim.units import NS_PER_US
from radiosim.vehicle.vehicle import run_vehicle


def logs_of(
    trace: Trace,
    stamp: int = 0,
    units: Sequence[str] | None = None,
    *,
    has_acts: bool = True,
    is_real_time: bool = False,
) -> dict[str, Records]:
    """The records of some units, or of all: times as a 32-bit counter of microseconds shows them.

    The receiver's counter begins as power comes or a reset lets it go, a transmitter's as its
    program begins; each runs with its clock's error; a drift of that error
    (rule T7) is not in it. Counters of frames have 16 bits. Without `has_acts` nothing is there of
    failsafes and outputs, which take most of the time. `is_real_time`: by a clock without error,
    as a logic analyser has.
    """
    plan = plan_of(trace)
    asked = (*plan.streams, RECEIVER) if units is None else units
    return {
        name: _receiver(trace, plan, stamp, 0 if is_real_time else plan.rx.ppb, has_acts=has_acts)
        if name == RECEIVER
        else _transmitter(trace, plan, plan.streams.index(name), stamp, is_real_time=is_real_time)
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


def _transmitter(
    trace: Trace, plan: Plan, number: int, stamp: int, *, is_real_time: bool
) -> Records:
    frames = trace.frames[trace.frames["stream"] == number]
    boots = transmitter_boots_ns(plan, number)
    done = frames[np.isin(frames["outcome"], (TAKEN, SENT, RETRIES_USED_UP))]
    values = np.maximum(done["attempts"] - 1, 0)
    values = values | np.where(done["outcome"] == TAKEN, ACKNOWLEDGED, 0)
    fresh = frames[frames["outcome"] != KEPT]
    counters = frame_counters(fresh["frame"], frames, boots)
    parts = [
        rows_of(fresh["sampled_ns"], Event.SAMPLE, number, counters),
        rows_of(done["done_ns"], Event.DONE, number, values),
    ]
    ppb = 0 if is_real_time else plan.tx[number].ppb
    return on_its_clock(parts, boots, ppb, stamp, trace.duration_ns)


def _receiver(trace: Trace, plan: Plan, stamp: int, ppb: int, *, has_acts: bool) -> Records:
    parts = []
    for number in range(len(plan.streams)):
        rows, frames = value_reads(trace, number), trace.frames[trace.frames["stream"] == number]
        counters = frame_counters(rows["frame"], frames, transmitter_boots_ns(plan, number))
        parts.append(rows_of(rows["read_ns"], Event.READ, number, counters))
    parts += _acts(trace) if has_acts else []
    if not trace.scenario.receiver.interrupt:
        parts += pass_rows(each_pass(plan, trace), first_passes_ns(plan), ns_a_us(ppb))
    boots = receiver_boots_ns(trace.scenario, plan)
    return on_its_clock(parts, boots, ppb, stamp, trace.duration_ns)


def _acts(trace: Trace) -> list[Records]:
    """What the vehicle did: failsafes, and pulses of outputs."""
    parts, record = [], run_vehicle(trace)
    for number, stream in enumerate(record.streams):
        on = np.array([entry.at_ns for entry in stream.entries], np.int64)
        off = np.array(stream.left_ns, np.int64)
        parts.append(rows_of(on, Event.FAILSAFE, number, np.ones_like(on)))
        parts.append(rows_of(off, Event.FAILSAFE, number, np.zeros_like(off)))
    for number, (name, output) in enumerate(trace.scenario.output.items()):
        if output.kind != "servo":
            continue
        told = record.outputs[name].told
        told = told[np.isfinite(told["level"])]
        widths_us = np.rint(told["level"] / NS_PER_US).astype(np.int64)
        parts.append(rows_of(told["at_ns"], Event.OUTPUT, number, widths_us))
    return parts
