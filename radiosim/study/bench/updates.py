"""What a logic analyser measures at the outputs while all is well: intervals and latencies."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np
import numpy.typing as npt

from radiosim.engine.machine import machine_for
from radiosim.engine.plan import make_plan
from radiosim.scenario import Scenario
from radiosim.study.bench.band import WANTED, band_of
from radiosim.study.bench.step import SIMULATED, Prediction, Step, Turn, key_of
from radiosim.trace import Trace
from radiosim.units import NS_PER_MS, NS_PER_S
from radiosim.vehicle.vehicle import Vehicle

CHANGES = 1000
"""Of which one mean is taken."""
_RATE, _MEAN_MS, _LATENCY_MS = 0.01, 0.01, 0.1

Numbers = npt.NDArray[np.float64]
Instants = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutputCount:
    """What is measured at one output in one start."""

    per_second: float
    """Fresh values."""
    interval_ms: float | None
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
            interval_ms=float(np.diff(changes_ns).mean()) / NS_PER_MS if len(end_ns) > 1 else None,
            latency_ms=_shown_after_ms(jumps_ns, sampled_ns, end_ns),
        )
    return found


def _fresh(trace: Trace, from_ns: int) -> dict[str, tuple[Instants, Instants]]:
    """By output: when each value that is newer than all before was sampled, and in effect."""
    scenario, plan = trace.scenario, make_plan(trace.scenario, trace.start)
    vehicle = Vehicle(scenario, plan, trace.start, machine_for(plan))
    found: dict[str, list[Instants]] = {name: [] for name in scenario.output}
    for act in chain(vehicle.take(trace.reads, trace.passes), vehicle.finish()):
        if act.deeds is not None:
            rows = act.deeds.effects
            rows = rows[(rows["is_fresh"] == 1) & (rows["end_ns"] >= from_ns)]
            found[act.output].append(np.array((rows["sampled_ns"], rows["end_ns"])))
    joined = {name: np.concatenate(parts, axis=1) for name, parts in found.items()}
    return {name: (both[0], both[1]) for name, both in joined.items()}


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
        title="Update interval and latency",
        do="Logic analyser on the output.",
        measure=(
            "Interval: the transmitter sends a value that changes with every sample; from a second "
            f"after the last unit is up, the mean of {CHANGES} changes. Latency: a value that "
            "jumps once a second; from a spare pin, raised as the control is read, to "
            f"{_ends(scenario)}, 100 times, after a power-on every ten: all but about five in the "
            "band."
        ),
        turns=tuple(
            Turn(
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
    means = [it.interval_ms for it in found if it.interval_ms is not None]
    if len(means) < len(found):
        yield Prediction(
            what="fresh values",
            low=0.0,
            high=max(it.per_second for it in found),
            unit="/s",
            resolution=_RATE,
            source=SIMULATED,
            tries=len(found),
            text="in some starts next to none came",
        )
        return
    yield band_of("interval", means, "ms", _MEAN_MS)
    latencies_ms = np.concatenate([it.latency_ms for it in found])
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
