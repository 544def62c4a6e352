"""What one output did: what it was told, and when that was in effect (rules F4 and G)."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from radiosim.chance import REFRESH, draw_below, key_of
from radiosim.engine.plan import Plan
from radiosim.engine.rules.grid import BILLION
from radiosim.scenario.structs.output import Output
from radiosim.trace import Trace
from radiosim.units import NS_PER_S, NS_PER_US, ns_from_ms
from radiosim.vehicle.level import Levels, failsafe_level, levels_of, start_level
from radiosim.vehicle.program import FAILSAFE, STARTED, STOPPED, WRITTEN, StreamRecord
from radiosim.vehicle.smoothing import smoothed
from radiosim.vehicle.values import ReadValues

Instants = npt.NDArray[np.int64]
NOTHING = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What an output was told, one entry for each time that this changed."""

    at_ns: Instants
    level: npt.NDArray[np.float64]
    """NaN: no pulses, or the pin released."""
    frame: Instants
    """Number of the frame that it carries; −1: none."""
    sampled_ns: Instants
    """When that frame was sampled."""
    values_ns: Instants
    """When the oldest of the values it carries was taken."""
    is_live: npt.NDArray[np.bool_]
    """It follows the hand: not start-up, not failsafe."""
    kind: Instants
    """STARTED, STOPPED, WRITTEN or FAILSAFE."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputRecord:
    """What was in effect, one entry for each pulse or each write; same columns as Told."""

    told: Told
    start_ns: Instants
    """Start of the pulse; the write itself for an output without pulses."""
    end_ns: Instants
    """From when it is in effect."""
    level: npt.NDArray[np.float64]
    entry: Instants
    """Entry of `told` that it carries."""
    is_fresh: npt.NDArray[np.bool_]
    """It carries a newer frame than the one before."""


def run_output(
    trace: Trace,
    plan: Plan,
    name: str,
    record: StreamRecord,
    pass_starts: Instants | None,
    *,
    values: ReadValues | None = None,
) -> OutputRecord:
    """What one output of the scene did in one start.

    `pass_starts`: starts of all passes; needed only by an output that is smoothed per pass.
    `values`: columns that outputs of one start share; made anew if left out.
    """
    output = trace.scenario.output[name]
    told = _told(trace, plan, output, record, values or ReadValues(trace, plan))
    if output.kind != "servo":
        entry = np.arange(len(told.at_ns))
        return _in_effect(told, told.at_ns, told.at_ns, told.level, entry)
    starts = _pulse_starts(trace, plan, name, output, told)
    entry = np.searchsorted(told.at_ns, starts, side="right") - 1
    level = told.level
    if output.smoothing_us_per_pass and pass_starts is not None:
        # An output that holds goes on towards what was last written.
        holds = (told.kind == FAILSAFE) & (output.on_failsafe == "hold")
        width = smoothed(
            told.at_ns,
            level,
            (told.kind == WRITTEN) | holds,
            step_ns=output.smoothing_us_per_pass * NS_PER_US,
            starts=starts,
            pass_starts=pass_starts,
        )
    else:
        width = level[entry]
    ends = starts + np.nan_to_num(width).astype(np.int64)
    cut = _next_stop(told, starts, plan.until_ns)
    seen = ends < cut
    return _in_effect(told, starts[seen], ends[seen], width[seen], entry[seen])


def _told(
    trace: Trace, plan: Plan, output: Output, record: StreamRecord, values: ReadValues
) -> Told:
    """Every change of what the output is told, with the level it comes to."""
    stream = plan.streams.index(output.stream)
    levels = levels_of(output, plan.payloads[stream])
    events = record.table
    at_ns, kind, read = events.T
    written = np.flatnonzero(kind == WRITTEN)
    rows = read[written]
    fields = tuple(field for field, _ in levels.weights)
    told = Told(
        at_ns=at_ns,
        level=np.full(len(events), np.nan),
        frame=np.full(len(events), NOTHING, np.int64),
        sampled_ns=np.zeros(len(events), np.int64),
        values_ns=np.zeros(len(events), np.int64),
        is_live=kind == WRITTEN,
        kind=kind,
    )
    mixed = levels.mixed(lambda field: values.column(stream, field)[rows])
    told.level[written] = levels.of_values(mixed)
    told.frame[written] = trace.reads["frame"][rows]
    told.sampled_ns[written] = trace.reads["sampled_ns"][rows]
    told.values_ns[written] = values.taken_ns(stream, fields)[rows]
    for index in np.flatnonzero((kind == FAILSAFE) | (kind == STARTED)).tolist():
        _tell_other(told, index, output, levels)
    return told


def _tell_other(told: Told, index: int, output: Output, levels: Levels) -> None:
    """What is told by boot or failsafe, which can hold what was told before."""
    if told.kind[index] == STARTED:
        level = start_level(output, levels)
    else:
        before = index - 1
        held = float(told.level[before]) if index else math.nan
        level = failsafe_level(output, levels, None if math.isnan(held) else held)
        if index:
            for column in (told.frame, told.sampled_ns, told.values_ns):
                column[index] = column[before]
    told.level[index] = math.nan if level is None else level


def pulse_period_ns(output: Output) -> int:
    """From one pulse to the next, before the clock's error."""
    return round(NS_PER_S / output.refresh_hz)


def _pulse_starts(trace: Trace, plan: Plan, name: str, output: Output, told: Told) -> Instants:
    """Starts of all pulses that there would be, while the program's timer runs (rule G1)."""
    period_ns = pulse_period_ns(output)
    if output.phase_ms == "drawn":
        key = key_of(trace.seed, trace.start, "output", name)
        phase_ns = draw_below(key, REFRESH, period_ns)
    else:
        phase_ns = ns_from_ms(output.phase_ms)
    eras = []
    for start_ns in told.at_ns[told.kind == STARTED].tolist():
        stops = told.at_ns[(told.kind == STOPPED) & (told.at_ns > start_ns)]
        stop_ns = int(stops[0]) if len(stops) else plan.until_ns
        first_ns = start_ns + phase_ns
        count = max(0, (stop_ns - first_ns) // period_ns + 2)
        # A clock that runs early fits a few pulses more.
        nominal = np.arange(count + count // 8, dtype=np.int64) * period_ns
        starts = first_ns + _scaled(nominal, plan.rx.ppb)
        eras.append(starts[starts < stop_ns])
    return np.unique(np.concatenate(eras)) if eras else np.zeros(0, np.int64)


def _scaled(nominal_ns: Instants, ppb: int) -> Instants:
    """The rule `scaled` over many spans."""
    whole = nominal_ns // BILLION
    rest = nominal_ns - whole * BILLION
    return nominal_ns + whole * ppb + (rest * ppb + BILLION // 2) // BILLION


def _next_stop(told: Told, starts: Instants, until_ns: int) -> Instants:
    """For each pulse the instant at which the pin would float, or the run ends."""
    stops = np.append(told.at_ns[told.kind == STOPPED], until_ns)
    return stops[np.searchsorted(stops[:-1], starts, side="right")]


def _in_effect(
    told: Told,
    starts: Instants,
    ends: Instants,
    level: npt.NDArray[np.float64],
    entry: Instants,
) -> OutputRecord:
    """Mark what is fresh: a live value of a frame newer than all before (rule G3)."""
    carried = np.where(told.is_live[entry], told.frame[entry], NOTHING)
    newest = np.maximum.accumulate(carried) if len(carried) else carried
    before = np.concatenate(([NOTHING], newest[:-1])) if len(carried) else carried
    return OutputRecord(
        told=told,
        start_ns=starts,
        end_ns=ends,
        level=level,
        entry=entry,
        is_fresh=carried > before,
    )
