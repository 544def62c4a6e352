"""How much a scenario asks for: what is simulated takes time, and what is kept takes room."""

from collections.abc import Iterator

from radiosim.scenario.sending import sending_ns
from radiosim.scenario.structs.scenario import Scenario
from radiosim.scenario.structs.transmitter import Transmitter
from radiosim.units import NS_PER_MS, NS_PER_S

MOST_EVENTS = 1e12
"""Frames, pulses and the like of a whole run: about a day on one core."""
MOST_KEPT = 1e7
"""The same of one start whose rows are all kept, as a trace is: about a gigabyte."""


def events_a_second(scenario: Scenario) -> float:
    """Frames, pulses, works and spans that a second of the scenario has, without retries."""
    return sum(_rates(scenario))


def _rates(scenario: Scenario) -> Iterator[float]:
    receiver = scenario.receiver
    for name, unit in scenario.transmitter.items():
        yield _frames_a_second(scenario, name, unit)
    for every_ms in (span.every_ms for spans in (receiver.work, receiver.deaf) for span in spans):
        yield 1e3 / every_ms
    for output in scenario.output.values():
        if output.kind == "servo":
            yield output.refresh_hz
            if output.smoothing_us_per_pass:
                yield 1e3 / (receiver.loop_ms + receiver.delay_ms)


def _frames_a_second(scenario: Scenario, name: str, unit: Transmitter) -> float:
    if unit.pacing != "after_send":
        return 1e3 / (unit.period_ms or 1.0)
    shortest_ns = (unit.pause_ms or 0.0) * NS_PER_MS + sending_ns(scenario, name, unit)[0]
    return NS_PER_S / max(shortest_ns, 1.0)


def too_much(scenario: Scenario) -> str:
    """Why a scenario is too large to be simulated, of its `duration_s`; empty if it is not."""
    rate, starts = events_a_second(scenario), scenario.starts
    if rate * starts * scenario.duration_s <= MOST_EVENTS:
        return ""
    return (
        f"must be at most {MOST_EVENTS / rate / starts:.3g} with {starts:,} starts that have "
        f"{rate:.3g} frames, pulses and the like a second ({MOST_EVENTS:.0e} in all take a day), "
        f"got {scenario.duration_s:g}"
    )
