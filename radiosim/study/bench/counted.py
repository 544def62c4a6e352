"""Steps whose prediction is simulated: what the receiver counts while all is well."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import msgspec
import numpy as np

from radiosim.engine.choice import Engine
from radiosim.engine.meeting_phase import EVERY
from radiosim.engine.simulate import flow_of, simulate
from radiosim.measure.start import tally_flow
from radiosim.measure.tally import OutputTally
from radiosim.scenario import Scenario
from radiosim.study.bench.band import band_of
from radiosim.study.bench.step import SIMULATED, Prediction, Step
from radiosim.study.drill.points import SETTLED_S
from radiosim.trace import READ, Trace
from radiosim.units import NS_PER_MS, NS_PER_S

CHAPTER = "Counted while all is well"


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
    outputs: Mapping[str, OutputTally]
    seconds: float


def ordinary(number: int) -> int:
    """The number of the n-th start whose phases are drawn as ever, not made to meet (rule T6)."""
    return number + number // (EVERY - 1) + 1


def up_s(scenario: Scenario) -> float:
    """When all units have booted."""
    receiver_s = scenario.receiver.boot_s + scenario.profile().power_on_reset_ms / 1000
    return max(receiver_s, *(unit.start_s + unit.boot_s for unit in scenario.transmitter.values()))


def calm(scenario: Scenario, minutes: float) -> Scenario:
    """The scene without its faults, as long as it is counted for."""
    duration_s = up_s(scenario) + SETTLED_S + 60 * minutes
    return msgspec.structs.replace(scenario, fault=(), requirement=(), duration_s=duration_s)


def counted(scenario: Scenario, engine: Engine, start: int) -> Count:
    """Simulate one start and count; the scene is one of `calm`."""
    trace = simulate(scenario, start=start, engine=engine)
    from_ns = round((up_s(scenario) + SETTLED_S) * NS_PER_S)
    return Count(
        streams={
            name: _stream(trace, number, from_ns)
            for number, name in enumerate(scenario.transmitter)
        },
        outputs=tally_flow(flow_of(trace)).outputs,
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


def counted_steps(scenario: Scenario, counts: Sequence[Count]) -> Iterator[Step]:
    """A step for each stream and one for each output."""
    for name in scenario.transmitter:
        found = [count.streams[name] for count in counts]
        there = [it for it in found if it is not None]
        yield _reads(scenario, name, there, counts)
    for name in scenario.output:
        yield _updates(scenario, name, counts)


def _reads(
    scenario: Scenario, name: str, there: Sequence[StreamCount], counts: Sequence[Count]
) -> Step:
    minutes = counts[0].seconds / 60
    predicted: tuple[Prediction, ...]
    if len(there) < len(counts):
        predicted = (
            Prediction(
                what="frames read a second",
                low=0.0,
                high=max((it.per_second for it in there), default=0.0),
                unit="/s",
                source=SIMULATED,
                tries=len(counts),
                text=f"in {len(counts) - len(there)} starts next to nothing arrived",
            ),
        )
    else:
        predicted = (
            band_of("frames read a second", [it.per_second for it in there], "/s"),
            band_of(
                f"frames missing in {minutes:g} min (jumps of the counter, summed)",
                [it.missing for it in there],
                "frames",
            ),
            band_of("times that the counter jumped", [it.jumps for it in there], "times"),
            band_of("longest time between two frames", [it.longest_ms for it in there], "ms"),
        )
    return Step(
        chapter=CHAPTER,
        key=f"reads.{name}",
        title=f"{name}: frames read, counter jumps, the longest hole",
        do=(
            f"All units on as in use, for {minutes:g} min from a second after the last one is up. "
            "Let each frame carry a counter that goes up by one a sample."
        ),
        measure=(
            "In the receiver's firmware, where a frame is read: count it; add what the counter "
            "jumped beyond one; keep the largest time since the frame before. Print the sums at "
            "the end, not while they are counted. Repeat after a power-on: phases differ."
        ),
        predicted=predicted,
        if_not=(
            "Fewer frames, no jumps: the sender is slower: "
            f"transmitter.{name}.period_ms, pacing. More jumps, one by one: more loss than the "
            "scene says: air.loss, channel, antennas. Jumps in spells: clocks meet: see 'Two "
            "senders at once'. A long hole now and then: something blocks a loop: receiver.work, "
            f"delay_ms, transmitter.{name}.work."
        ),
    )


def _updates(scenario: Scenario, name: str, counts: Sequence[Count]) -> Step:
    output = scenario.output[name]
    found = [count.outputs[name] for count in counts]
    fresh = [it.fresh for it in found]
    seconds = counts[0].seconds
    predicted: list[Prediction] = []
    if all(fresh):
        # Counted since power-on: a share of that second or two had none yet.
        ups = [it.age.weight / NS_PER_S for it in found]
        means = [1000 * up / n for up, n in zip(ups, fresh, strict=True)]
        predicted.append(band_of("mean time between fresh values", means, "ms"))
        latency = found[0].latency
        for it in found[1:]:
            latency = latency + it.latency
        predicted.append(
            Prediction(
                what="latency of a single value",
                low=latency.quantile_ns(0.025) / NS_PER_MS,
                high=latency.quantile_ns(0.975) / NS_PER_MS,
                unit="ms",
                source=SIMULATED,
                tries=len(counts),
                share=0.95,
                text="from the sample to the value in effect",
            )
        )
    else:
        predicted.append(
            Prediction(
                what="fresh values",
                low=0.0,
                high=max(fresh) / seconds,
                unit="/s",
                source=SIMULATED,
                tries=len(counts),
                text="in some starts it never got a value",
            )
        )
    ends = (
        "the end of the first pulse that is longer"
        if output.kind == "servo"
        else "the output's own edge"
    )
    return Step(
        chapter=CHAPTER,
        key=f"updates.{name}",
        title=f"{name} (of {output.stream}): update interval and latency",
        do=(
            f"All units on. For the interval let {output.stream} send a value that changes with "
            "every sample; for the latency one that jumps once a second."
        ),
        measure=(
            f"Logic analyser on the output. Interval: time between changes of {name}, the mean of "
            f"1000. Latency: raise a spare pin of {output.stream} as it reads the control that "
            f"jumps, and measure from there to {ends}, 100 times, after a power-on every ten: "
            "all but about five in the band."
        ),
        predicted=tuple(predicted),
        if_not=(
            f"Interval right and latency long: a queue of old frames: receiver.read, transmitter."
            f"{output.stream}.when_busy. Latency scatters by a whole refresh: "
            f"output.{name}.refresh_hz. Slow in even steps: output.{name}.smoothing_us_per_pass."
        ),
    )
