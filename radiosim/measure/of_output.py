"""Figures of one output (rules G3 and G4)."""

import numpy as np
import numpy.typing as npt

from radiosim.engine.payload import Payload, Values
from radiosim.engine.plan import Plan
from radiosim.measure.histogram import Histogram, Spans, histogram_of, histogram_of_ramps
from radiosim.measure.tally import OutputTally
from radiosim.scenario.structs.output import Output, Servo
from radiosim.trace import Trace
from radiosim.vehicle.level import levels_of
from radiosim.vehicle.output import OutputRecord
from radiosim.vehicle.program import STOPPED
from radiosim.vehicle.servo import angles_of_pulses, follow

MICRODEGREES = 1e6


def tally_output(trace: Trace, plan: Plan, output: Output, record: OutputRecord) -> OutputTally:
    """What one output adds to the figures."""
    told, ends = record.told, record.end_ns
    live = told.is_live[record.entry] & ~np.isnan(record.level)
    values_ns = told.values_ns[record.entry]
    fresh_ns = ends[record.is_fresh]
    until = _until_next(record, ends, trace.duration_ns)
    holds = _holds(record, live, trace.duration_ns)
    servo_error = None
    if output.servo is not None:
        payload = plan.payloads[plan.streams.index(output.stream)]
        servo_error = _servo_error(output, output.servo, payload, record)
    return OutputTally(
        stream=output.stream,
        refresh_hz=output.refresh_hz if output.kind == "servo" else None,
        fresh=len(fresh_ns),
        longest_hold_ns=int(holds.max()) if len(holds) else None,
        latency=histogram_of(fresh_ns - told.sampled_ns[record.entry][record.is_fresh]),
        age=histogram_of_ramps((ends - values_ns)[live], (until - values_ns)[live]),
        servo_error=servo_error,
    )


def _until_next(record: OutputRecord, from_ns: Spans, duration_ns: int) -> Spans:
    """For each value in effect: until when, at the latest."""
    ends = record.end_ns
    following = np.append(ends[1:], duration_ns)[: len(ends)]
    stops = np.append(record.told.at_ns[record.told.kind == STOPPED], duration_ns)
    stop_after: Spans = stops[np.searchsorted(stops[:-1], from_ns, side="right")]
    until: Spans = np.minimum(following, stop_after)
    return until


def _holds(record: OutputRecord, live: npt.NDArray[np.bool_], duration_ns: int) -> Spans:
    """How long each fresh value stayed, until the next or until it was no longer the hand's."""
    ends = record.end_ns
    stops = record.told.at_ns[record.told.kind == STOPPED]
    changes = np.sort(np.concatenate((ends[record.is_fresh | ~live], stops, [duration_ns])))
    fresh_ns = ends[record.is_fresh]
    return changes[np.searchsorted(changes[:-1], fresh_ns, side="right")] - fresh_ns


def _servo_error(output: Output, servo: Servo, payload: Payload, record: OutputRecord) -> Histogram:
    """Distance between where the hand points and where the servo stands, at each live pulse."""
    levels, ends = levels_of(output, payload), record.end_ns
    has_pulse = ~np.isnan(record.level)
    asked = angles_of_pulses(record.level, servo).tolist()
    targets = [angle if pulses else None for angle, pulses in zip(asked, has_pulse, strict=True)]
    angles = np.array(follow(ends.tolist(), targets, servo), np.float64)
    live = record.told.is_live[record.entry] & has_pulse

    def pointed(field: int) -> Values:
        return payload.sensors[field].now(ends[live])

    if not live.any():
        return histogram_of(np.zeros(0, np.float64))
    hand = angles_of_pulses(levels.of_values(levels.mixed(pointed)), servo)
    return histogram_of(np.abs(hand - angles[live]) * MICRODEGREES)
