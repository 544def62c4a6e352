"""What a receiver's program did in one start, as the log that its probe would have written."""

from collections.abc import Callable, Iterator

import numpy as np

from radiosim.bench_log.record_rows import pass_rows, rows_of
from radiosim.bench_log.records import Event, Records
from radiosim.engine.plan import Plan
from radiosim.firmware.all_passes import each_pass
from radiosim.firmware.log_rows import (
    first_passes_ns,
    frame_counters,
    ns_a_us,
    on_its_clock,
    own_us,
    receiver_boots_ns,
    transmitter_boots_ns,
)
from radiosim.firmware.script import FAILSAFE_STATE, PULSE, TURNED, Reply, Script
from radiosim.scenario import Scenario
from radiosim.trace import FIRST_NOISE, Trace
from radiosim.units import NS_PER_US

Tells = Callable[[Plan, Trace, Script, Reply], None]
"""Is given each start as it was run."""


def program_log(
    scenario: Scenario,
    plan: Plan,
    trace: Trace,
    script: Script,
    reply: Reply,
    *,
    stamp: int,
    is_chip: bool = False,
) -> Records:
    """The records of the receiver, on its clock; its counters are those of the frames.

    On a chip passes are those of its mark, if it has one; else those that the bench called.
    """
    parts = [*_reads(plan, trace, script, reply), *_failsafes(scenario, plan, reply)]
    parts += _pulses(scenario, reply, ns_each=1 if is_chip else NS_PER_US)
    if is_chip:
        parts += _turns(plan, reply)
    elif not scenario.receiver.interrupt:
        parts += pass_rows(each_pass(plan, trace), first_passes_ns(plan), ns_a_us(plan.rx.ppb))
    boots = receiver_boots_ns(scenario, plan)
    return on_its_clock(parts, boots, plan.rx.ppb, stamp, plan.until_ns)


def _reads(plan: Plan, trace: Trace, script: Script, reply: Reply) -> Iterator[Records]:
    """Frames as the program took them; what noise made of nothing has no counter."""
    rows = trace.reads[script.rows][reply.takes["row"]]
    for number in range(len(plan.streams)):
        is_mine = (rows["stream"] == number) & (rows["frame"] > FIRST_NOISE)
        frames = trace.frames[trace.frames["stream"] == number]
        boots = transmitter_boots_ns(plan, number)
        counters = frame_counters(rows["frame"][is_mine], frames, boots)
        yield rows_of(reply.takes["at_ns"][is_mine], Event.READ, number, counters)


def _pulses(scenario: Scenario, reply: Reply, ns_each: int) -> Iterator[Records]:
    """Pulses of each output where their width in whole us changes; `ns_each`: of the reply's."""
    outs = reply.outs[(reply.outs["kind"] == PULSE) & (reply.outs["value"] > 0)]
    for number in range(len(scenario.output)):
        mine = outs[outs["output"] == number]
        widths_us = np.rint(mine["value"] * (ns_each / NS_PER_US)).astype(np.int64)
        is_new = np.diff(widths_us, prepend=-1) != 0
        yield rows_of(mine["at_ns"][is_new], Event.OUTPUT, number, widths_us[is_new])


def _failsafes(scenario: Scenario, plan: Plan, reply: Reply) -> Iterator[Records]:
    """Of streams on one pipe a program's failsafe is that of each."""
    told = reply.outs[reply.outs["kind"] == FAILSAFE_STATE]
    for number, name in enumerate(plan.streams):
        mine = told[told["output"] == scenario.transmitter[name].pipe]
        if name in scenario.failsafe:
            yield rows_of(mine["at_ns"], Event.FAILSAFE, number, mine["value"])


def _turns(plan: Plan, reply: Reply) -> Iterator[Records]:
    told = reply.outs[reply.outs["kind"] == TURNED]
    counts = -1 - told["output"].astype(np.int64)
    yield rows_of(told["at_ns"], Event.PASS, 0, counts)
    longest, some = own_us(told["value"], plan.rx.ppb), counts > 0
    longest = np.minimum(longest[some], 0xFFFF)
    yield rows_of(told["at_ns"][some], Event.LONGEST, 0, longest)
