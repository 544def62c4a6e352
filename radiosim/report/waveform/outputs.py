"""What outputs do: pulses, levels, whether they follow the hand."""

import math
from collections.abc import Iterator

from radiosim.report.waveform.signal import REAL, Change, Signal, signal, wire
from radiosim.trace import Trace
from radiosim.vehicle.vehicle import OutputRecord, VehicleRecord


def output_signals(trace: Trace, vehicle: VehicleRecord) -> Iterator[Signal]:
    """Of each output, pulses for a servo and the level written for the rest."""
    for name, output in trace.scenario.output.items():
        scope, record = ("outputs", name), vehicle.outputs[name]
        if output.kind == "servo":
            yield from _pulses(scope, record)
        else:
            yield from _levels(scope, record)
        told = zip(record.told["at_ns"].tolist(), record.told["is_live"].tolist(), strict=True)
        yield signal(scope, "follows", told)
        if output.servo is not None:
            ends = zip(
                record.effects["end_ns"].tolist(), record.effects["angle"].tolist(), strict=True
            )
            placed: list[Change] = [(at_ns, deg) for at_ns, deg in ends if not math.isnan(deg)]
            yield signal(scope, "servo_deg", placed, bits=REAL, first=0.0)


def _pulses(scope: tuple[str, ...], record: OutputRecord) -> Iterator[Signal]:
    starts, ends = record.effects["start_ns"].tolist(), record.effects["end_ns"].tolist()
    yield wire(scope, "pulse", zip(starts, ends, strict=True))


def _levels(scope: tuple[str, ...], record: OutputRecord) -> Iterator[Signal]:
    written = list(
        zip(record.effects["start_ns"].tolist(), record.effects["level"].tolist(), strict=True)
    )
    driven: list[Change] = [(at_ns, int(not math.isnan(level))) for at_ns, level in written]
    levels: list[Change] = [(at_ns, 0.0 if math.isnan(it) else it) for at_ns, it in written]
    yield signal(scope, "driven", driven)
    yield signal(scope, "level", levels, bits=REAL, first=0.0)
