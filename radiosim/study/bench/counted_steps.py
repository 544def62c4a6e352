"""Steps whose prediction is simulated: what receiver and outputs show while all is well."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import msgspec
import numpy as np
import numpy.typing as npt

from radiosim.engine.simulate import MOST_KEPT_BYTES, Engine
from radiosim.engine.stratification import EVERY
from radiosim.errors import OptionError, TraceError
from radiosim.measure.by_program import record_of_start
from radiosim.scenario import Scenario
from radiosim.study.bench.all_rests import all_rests
from radiosim.study.bench.counters import counter_settings, counters_text
from radiosim.study.bench.rests import has_default
from radiosim.study.bench.step import (
    SIMULATED,
    WANTED,
    Chapter,
    Prediction,
    Step,
    StepCase,
    assumed_where,
    key_of,
    predicted_range,
)
from radiosim.study.drill.points import SETTLED_S
from radiosim.trace import ReadOutcome, Trace
from radiosim.units import NS_PER_MS, NS_PER_S
from radiosim.vehicle.feedback import simulate

CHANGES = 1000
"""Number of changes of which one mean is taken."""
_RATE, _MEAN_MS, _LATENCY_MS = 0.01, 0.01, 0.1

Numbers = npt.NDArray[np.float64]
Instants = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutputCount:
    """What is measured at one output in one start."""

    per_second: float
    """Fresh values."""
    mean_gap_ms: float | None
    """Mean of the first CHANGES, or of as many as there are; None: fewer than two values."""
    latency_ms: Numbers
    """Of a jump each second, to the first value that shows it; inf: to none."""


def count_outputs(trace: Trace, from_ns: int) -> dict[str, OutputCount]:
    """Every output of a start, from an instant on."""
    scenario, streams = trace.scenario, tuple(trace.scenario.transmitter)
    seconds = (trace.duration_ns - from_ns) / NS_PER_S
    found = {}
    for name, (sampled_ns, end_ns) in _fresh(trace, from_ns).items():
        changes_ns = end_ns[: CHANGES + 1]
        jumps_ns = _jumps_ns(trace, streams.index(scenario.output[name].stream), from_ns)
        found[name] = OutputCount(
            per_second=len(end_ns) / seconds,
            mean_gap_ms=float(np.diff(changes_ns).mean()) / NS_PER_MS if len(end_ns) > 1 else None,
            latency_ms=_shown_after_ms(jumps_ns, sampled_ns, end_ns),
        )
    return found


def _fresh(trace: Trace, from_ns: int) -> dict[str, tuple[Instants, Instants]]:
    """By output: when each value that is newer than all before was sampled, and in effect."""
    found = {}
    for name, record in record_of_start(trace).outputs.items():
        rows = record.effects
        rows = rows[(rows["is_fresh"] == 1) & (rows["end_ns"] >= from_ns)]
        found[name] = (rows["sampled_ns"], rows["end_ns"])
    return found


def _jumps_ns(trace: Trace, stream: int, from_ns: int) -> Instants:
    """The sample that first reads each jump; the last comes a second before the end."""
    frames = trace.frames[trace.frames["stream"] == stream]
    sampled_ns = np.unique(frames["sampled_ns"])
    wanted_ns = np.arange(from_ns, trace.duration_ns - NS_PER_S, NS_PER_S)
    places = np.searchsorted(sampled_ns, wanted_ns)
    jumps_ns: Instants = sampled_ns[places[places < len(sampled_ns)]]
    return jumps_ns


def _shown_after_ms(jumps_ns: Instants, sampled_ns: Instants, end_ns: Instants) -> Numbers:
    """From each jump until a value is in effect that was sampled then or later.

    A frame that is lost takes its jump with it: the next one that comes through shows it.
    """
    shown_ns = np.append(end_ns.astype(np.float64), np.inf)
    return (shown_ns[np.searchsorted(sampled_ns, jumps_ns)] - jumps_ns) / NS_PER_MS


def updates_step(scenario: Scenario, counts: Sequence[Mapping[str, OutputCount]]) -> Step:
    """The step of all outputs, from what each start has shown."""
    names = tuple(scenario.output)
    return Step(
        key="updates",
        title="Gap and latency at the outputs",
        do="Logic analyser on the output.",
        measure=(
            "Gap: the transmitter sends a value that changes with every sample; from a second "
            f"after the last unit is up, the mean of {CHANGES} changes. Latency: a value that "
            "jumps once a second; from a spare pin, raised as the control is read, to "
            f"{_ends(scenario)}, 100 times, after a power-on every ten: all but about five in the "
            "predicted range."
        ),
        cases=tuple(
            StepCase(
                key=f"updates.{name}",
                title=f"{name} (of {scenario.output[name].stream})",
                predicted=tuple(_predicted([count[name] for count in counts])),
            )
            for name in names
        ),
        if_not=(
            "Only latency long: a queue of old frames: receiver.read, "
            f"{key_of('transmitter', tuple(scenario.transmitter))}.when_busy. Latency scatters by "
            f"a whole refresh: {key_of('output', names)}.refresh_hz. Slow in even steps: "
            "smoothing_us_per_pass."
        ),
    )


def _predicted(found: Sequence[OutputCount]) -> Iterator[Prediction]:
    means = [entry.mean_gap_ms for entry in found if entry.mean_gap_ms is not None]
    if len(means) < len(found):
        yield Prediction(
            what="fresh values",
            low=0.0,
            high=max(entry.per_second for entry in found),
            unit="/s",
            resolution=_RATE,
            source=SIMULATED,
            tries=len(found),
            text="in some starts next to none came",
        )
        return
    yield predicted_range("mean gap", means, "ms", _MEAN_MS)
    latencies_ms = np.concatenate([entry.latency_ms for entry in found])
    if len(latencies_ms):
        # No interpolation: some may be infinite.
        low, high = np.quantile(
            latencies_ms, ((1 - WANTED) / 2, (1 + WANTED) / 2), method="inverted_cdf"
        )
        yield Prediction(
            what="latency",
            low=float(low),
            high=float(high),
            unit="ms",
            resolution=_LATENCY_MS,
            source=SIMULATED,
            tries=len(found),
            share=WANTED,
        )


def _ends(scenario: Scenario) -> str:
    """Where the latency of an output is measured to."""
    pulse, edge = "the end of the first longer pulse", "the output's own edge"
    pins = [name for name, output in scenario.output.items() if output.kind != "servo"]
    if len(pins) == len(scenario.output):
        return edge
    return f"{pulse} ({', '.join(pins)}: {edge})" if pins else pulse


_COUNT_RATE, _COUNT, _GAP_MS = 0.01, 1.0, 0.1


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
    """Simulate one start of a scenario of `calm` and count; OptionError if it is too long."""
    try:
        trace = simulate(scenario, start=start, engine=engine, most_bytes=MOST_KEPT_BYTES)
    except TraceError as error:
        raise OptionError(f"--minutes: must be fewer: {error}") from None
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
        (reads["stream"] == number)
        & (reads["outcome"] == ReadOutcome.READ)
        & (reads["read_ns"] >= from_ns)
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
    rests = all_rests(scenario, has_faults=False)
    return Chapter(
        title="Counted while all is well",
        how="All units on as in use.",
        rests_on=rests,
        steps=tuple(
            msgspec.structs.replace(
                step, cases=assumed_where(lambda *_: has_default(rests), step.cases)
            )
            for step in (
                _reads(scenario, counts),
                *(
                    (updates_step(scenario, [count.outputs for count in counts]),)
                    if scenario.output
                    else ()
                ),
            )
        ),
    )


def _reads(scenario: Scenario, counts: Sequence[Count]) -> Step:
    names = tuple(scenario.transmitter)
    return Step(
        key="reads",
        title="Frames read",
        do=(
            f"For {counts[0].seconds / 60:g} min, from a second after the last unit is up. "
            f"{counters_text(scenario)}"
        ),
        measure=(
            "Where the receiver's firmware reads a frame: count it, add what the counter jumped "
            "beyond one, keep the longest time since the frame before; print at the end. Repeat "
            "after a power-on: phases differ."
        ),
        cases=tuple(
            StepCase(key=f"reads.{name}", title=name, predicted=_of_stream(name, counts))
            for name in names
        ),
        if_not=(
            f"Fewer frames, no jumps: a slower transmitter: "
            f"{key_of('transmitter', names)}.period_ms, "
            "pacing. More jumps, one by one: more loss: air.loss, channel, antennas. Jumps in "
            "bursts: clocks beat: 'Two transmitters at once'. A long gap now and then: a loop is "
            "blocked: receiver.work, delay_ms, or the transmitter's work."
        ),
        settings=counter_settings(scenario),
    )


def _of_stream(name: str, counts: Sequence[Count]) -> tuple[Prediction, ...]:
    found = [count.streams[name] for count in counts]
    there = [entry for entry in found if entry is not None]
    if len(there) < len(counts):
        return (
            Prediction(
                what="frames read",
                low=0.0,
                high=max((count.per_second for count in there), default=0.0),
                unit="/s",
                resolution=_COUNT_RATE,
                source=SIMULATED,
                tries=len(counts),
                text=f"in {len(counts) - len(there)} starts next to nothing arrived",
            ),
        )
    return (
        predicted_range("frames read", [count.per_second for count in there], "/s", _COUNT_RATE),
        predicted_range("frames missing", [count.missing for count in there], "", _COUNT),
        predicted_range("counter jumps", [count.jumps for count in there], "", _COUNT),
        predicted_range("longest gap", [count.longest_ms for count in there], "ms", _GAP_MS),
    )
