"""Steps whose prediction is simulated: what the receiver counts while all is well."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import msgspec
import numpy as np

from radiosim.engine.choice import Engine
from radiosim.engine.simulate import simulate
from radiosim.engine.stratification import EVERY
from radiosim.scenario import Scenario
from radiosim.study.bench.band import band_of
from radiosim.study.bench.step import SIMULATED, Chapter, Prediction, Step, Turn, key_of
from radiosim.study.bench.updates import OutputCount, count_outputs, updates_step
from radiosim.study.drill.points import SETTLED_S
from radiosim.trace import READ, Trace
from radiosim.units import NS_PER_MS, NS_PER_S

_RATE, _COUNT, _HOLE_MS = 0.01, 1.0, 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamCount:
    """What a receiver's program counts of one stream."""

    per_second: float
    missing: int
    """Sum of the jumps of the frame counter beyond one."""
    jumps: int
    """How often it jumped."""
    longest_ms: float
    """Between two reads."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """One start, from a second after the last boot on."""

    streams: Mapping[str, StreamCount | None]
    """None: fewer than two frames read."""
    outputs: Mapping[str, OutputCount]
    seconds: float


def ordinary(number: int) -> int:
    """The number of the n-th start whose phases are drawn as ever, not placed on a beat (rule
    T6)."""
    return number + number // (EVERY - 1) + 1


def up_s(scenario: Scenario) -> float:
    """When all units have booted."""
    receiver_s = scenario.receiver.boot_s + scenario.profile().power_on_reset_ms / 1000
    return max(receiver_s, *(unit.start_s + unit.boot_s for unit in scenario.transmitter.values()))


def calm(scenario: Scenario, minutes: float) -> Scenario:
    """The scenario without its faults, as long as it is counted for."""
    duration_s = up_s(scenario) + SETTLED_S + 60 * minutes
    return msgspec.structs.replace(scenario, fault=(), requirement=(), duration_s=duration_s)


def counted(scenario: Scenario, engine: Engine, start: int) -> Count:
    """Simulate one start and count; the scenario is one of `calm`."""
    trace = simulate(scenario, start=start, engine=engine)
    from_ns = round((up_s(scenario) + SETTLED_S) * NS_PER_S)
    return Count(
        streams={
            name: _stream(trace, number, from_ns)
            for number, name in enumerate(scenario.transmitter)
        },
        outputs=count_outputs(trace, from_ns),
        seconds=scenario.duration_s - from_ns / NS_PER_S,
    )


def _stream(trace: Trace, number: int, from_ns: int) -> StreamCount | None:
    reads = trace.reads
    rows = reads[
        (reads["stream"] == number) & (reads["outcome"] == READ) & (reads["read_ns"] >= from_ns)
    ]
    if len(rows) < 2:
        return None
    rows = rows[np.argsort(rows["read_ns"], kind="stable")]
    # A retry that comes through twice, or a stale frame, is no jump forward.
    steps = np.diff(np.maximum.accumulate(rows["frame"]))
    until_ns = trace.scenario.duration_s * NS_PER_S
    return StreamCount(
        per_second=len(rows) / ((until_ns - from_ns) / NS_PER_S),
        missing=int(np.sum(steps[steps > 1] - 1)),
        jumps=int(np.sum(steps > 1)),
        longest_ms=float(np.max(np.diff(rows["read_ns"]))) / NS_PER_MS,
    )


def counted_chapter(scenario: Scenario, counts: Sequence[Count]) -> Chapter:
    """A step for the streams and one for the outputs."""
    return Chapter(
        title="Counted while all is well",
        how="All units on as in use.",
        steps=(
            _reads(scenario, counts),
            *((updates_step(scenario, [it.outputs for it in counts]),) if scenario.output else ()),
        ),
    )


def _reads(scenario: Scenario, counts: Sequence[Count]) -> Step:
    names = tuple(scenario.transmitter)
    return Step(
        key="reads",
        title="Frames read",
        do=(
            f"For {counts[0].seconds / 60:g} min, from a second after the last unit is up. Each "
            "frame carries a counter that goes up by one a sample."
        ),
        measure=(
            "Where the receiver's firmware reads a frame: count it, add what the counter jumped "
            "beyond one, keep the longest time since the frame before; print at the end. Repeat "
            "after a power-on: phases differ."
        ),
        turns=tuple(
            Turn(key=f"reads.{name}", title=name, predicted=_of_stream(name, counts))
            for name in names
        ),
        if_not=(
            f"Fewer frames, no jumps: a slower transmitter: "
            f"{key_of('transmitter', names)}.period_ms, "
            "pacing. More jumps, one by one: more loss: air.loss, channel, antennas. Jumps in "
            "bursts: clocks beat: 'Two transmitters at once'. A long hole now and then: a loop is "
            "blocked: receiver.work, delay_ms, or the transmitter's work."
        ),
    )


def _of_stream(name: str, counts: Sequence[Count]) -> tuple[Prediction, ...]:
    found = [count.streams[name] for count in counts]
    there = [it for it in found if it is not None]
    if len(there) < len(counts):
        return (
            Prediction(
                what="frames read",
                low=0.0,
                high=max((it.per_second for it in there), default=0.0),
                unit="/s",
                resolution=_RATE,
                source=SIMULATED,
                tries=len(counts),
                text=f"in {len(counts) - len(there)} starts next to nothing arrived",
            ),
        )
    return (
        band_of("frames read", [it.per_second for it in there], "/s", _RATE),
        band_of("frames missing", [it.missing for it in there], "", _COUNT),
        band_of("counter jumps", [it.jumps for it in there], "", _COUNT),
        band_of("longest hole", [it.longest_ms for it in there], "ms", _HOLE_MS),
    )
