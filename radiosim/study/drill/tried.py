"""One drill tried once: a fault at an instant of one start, and what each output made of it."""

from collections.abc import Mapping
from dataclasses import dataclass

import msgspec

from radiosim.engine.choice import Engine
from radiosim.engine.simulate import flow, simulate
from radiosim.measure.of_fault import NEVER
from radiosim.measure.start import tally_flow
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe import Failsafe
from radiosim.study.drill.faults import Drill
from radiosim.trace import NEW
from radiosim.units import NS_PER_S

SETTLED_S = 1.0
"""From the last boot until the first fault: all streams run by then."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """What became of a drill in one start."""

    stop_ns: Mapping[str, int]
    """By output that the fault can touch: until its failsafe value was in effect; NEVER."""
    recovered_ns: Mapping[str, int]
    """From the fault's end until it carried a new value again; NEVER."""
    live: frozenset[str]
    """Outputs that carried a value as the fault began: only those can be stopped by it."""
    entries: Mapping[str, int]
    """By stream: how often its failsafe came on."""


def tried(scenario: Scenario, drill: Drill, start: int, share: float, engine: Engine) -> Attempt:
    """Try a drill in one start, `share` of the longest cycle after all runs.

    In every second start a fault that silences a sender comes just as a frame has got through:
    from there the stop takes longest (rule F6).
    """
    at_s = up_s(scenario) + SETTLED_S + share * cycle_s(scenario)
    if start % 2 and drill.units[0] in scenario.transmitter:
        at_s = _after_a_frame(scenario, drill.units[0], start, at_s, engine)
    for_s = 2 * longest_timeout_s(scenario) + 1.0
    over_s = at_s + (for_s if drill.lasts else 0.0)
    boots_s = up_s(scenario) + scenario.receiver.recheck_ms / 1000
    duration_s = over_s + boots_s + 2 * longest_timeout_s(scenario) + SETTLED_S
    changed = msgspec.structs.replace(
        scenario,
        fault=drill.faults(at_s, for_s),
        duration_s=duration_s,
        requirement=(),
        failsafe=without_needs(scenario),
    )
    tally = tally_flow(flow(changed, start=start, engine=engine))
    found = {name: it for of_one in tally.faults for name, it in of_one.items()}
    return Attempt(
        stop_ns={name: it.detected_ns for name, it in found.items()},
        recovered_ns={name: it.recovered_ns for name, it in found.items()},
        live=frozenset(name for name, it in found.items() if it.was_live),
        entries={
            name: stream.failsafe.entries_true + stream.failsafe.nuisance_trips
            for name, stream in tally.streams.items()
            if stream.failsafe is not None
        },
    )


def _after_a_frame(
    scenario: Scenario, stream: str, start: int, at_s: float, engine: Engine
) -> float:
    """The end of the first frame of a stream that gets through after an instant, or that one."""
    until_s = at_s + 3 * cycle_s(scenario)
    calm = msgspec.structs.replace(scenario, fault=(), requirement=(), duration_s=until_s)
    rows = simulate(calm, start=start, engine=engine).attempts
    number = list(scenario.transmitter).index(stream)
    got = rows[(rows["stream"] == number) & (rows["fate"] == NEW)]["end_ns"]
    later = got[got > at_s * NS_PER_S]
    return float(later[0]) / NS_PER_S if len(later) else at_s


def undisturbed_entries(scenario: Scenario, start: int, engine: Engine) -> Mapping[str, int]:
    """How often each failsafe comes on in a start of a drill's length in which nothing happens."""
    duration_s = up_s(scenario) + 6 * longest_timeout_s(scenario) + 3 * SETTLED_S
    calm = msgspec.structs.replace(
        scenario,
        fault=(),
        duration_s=duration_s,
        requirement=(),
        failsafe=without_needs(scenario),
    )
    tally = tally_flow(flow(calm, start=start, engine=engine))
    return {
        name: stream.failsafe.entries_true + stream.failsafe.nuisance_trips
        for name, stream in tally.streams.items()
        if stream.failsafe is not None
    }


def without_needs(scenario: Scenario) -> dict[str, Failsafe]:
    """The timers without `resume_needs`: a stop does not hang on where the stick was before."""
    return {
        name: msgspec.structs.replace(timer, resume_needs=None)
        for name, timer in scenario.failsafe.items()
    }


def up_s(scenario: Scenario) -> float:
    """When all units have booted."""
    profile = scenario.profile()
    receiver_s = scenario.receiver.boot_s + profile.power_on_reset_ms / 1000
    return max(receiver_s, *(unit.start_s + unit.boot_s for unit in scenario.transmitter.values()))


def longest_timeout_s(scenario: Scenario) -> float:
    """Of all failsafe timers; a second where there is none."""
    return max((f.timeout_ms for f in scenario.failsafe.values()), default=1000.0) / 1000


def cycle_s(scenario: Scenario) -> float:
    """The longest period of anything that a fault can hit at another phase."""
    periods_ms = [unit.period_ms or unit.pause_ms or 0.0 for unit in scenario.transmitter.values()]
    refreshes_ms = [1000 / it.refresh_hz for it in scenario.output.values() if it.kind == "servo"]
    pass_ms = scenario.receiver.pass_ms + scenario.receiver.delay_ms
    return max([*periods_ms, *refreshes_ms, pass_ms]) / 1000


def milliseconds(ns: int) -> float | None:
    """A span in ms; None for one that never came."""
    return None if ns == NEVER else ns / (NS_PER_S / 1000)
