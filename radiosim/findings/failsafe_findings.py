"""Findings about failsafe: timers run out within a pass, or fed by others; lurches (F1 to F3)."""

from collections.abc import Iterable, Iterator

from radiosim.engine.plan import make_plan
from radiosim.findings.case import FAULT, LURCH, Case, Overrides
from radiosim.findings.proof import Suspect
from radiosim.safety import STILL
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import assumed_outputs
from radiosim.scenario.danger import outputs_by_danger
from radiosim.scenario.structs.output_table import Output, Preset
from radiosim.units import ms_from_ns, ns_from_ms
from radiosim.vehicle.fold.values import level_of
from radiosim.vehicle.output_fold import preset_level, scale_of
from radiosim.vehicle.reaction_bound import longest_pass_ns, with_slowest_clock

LATE_S = 2.0
"""Time for all to be up and running before the fault, and to see its end."""


def drill(scenario: Scenario, unit: str, kind: str) -> Overrides:
    """One fault of one unit, for good, in place of the scenario's own."""
    return drill_of_all(scenario, (unit,), kind)


def drill_of_all(scenario: Scenario, units: Iterable[str], kind: str) -> Overrides:
    """The same of several units at once."""
    at_s = _up_s(scenario) + LATE_S
    longest_s = max((f.timeout_ms for f in scenario.failsafe.values()), default=0.0) / 1000
    faults = ",".join(f'{{at_s={at_s:g},kind="{kind}",unit="{unit}"}}' for unit in units)
    return (
        f"fault=[{faults}]",
        f"duration_s={at_s + 2 * longest_s + LATE_S:g}",
        "requirement=[]",
    )


def interruption(scenario: Scenario, unit: str) -> Overrides:
    """One unit off until its failsafe is on, and back again, in place of the scenario's own
    faults."""
    at_s = _up_s(scenario) + LATE_S
    for_s = 2 * scenario.failsafe[unit].timeout_ms / 1000 + LATE_S
    ends_s = at_s + for_s + scenario.transmitter[unit].boot_s + LATE_S
    return (
        f'fault=[{{at_s={at_s:g},for_s={for_s:g},kind="power_off",unit="{unit}"}}]',
        f"duration_s={ends_s:g}",
        "requirement=[]",
    )


def acting_outputs(scenario: Scenario, stream: str) -> tuple[str, ...]:
    """Outputs of a stream that do something on failsafe."""
    return tuple(
        name
        for name, output in scenario.output.items()
        if output.stream == stream and output.on_failsafe != "hold"
    )


def _up_s(scenario: Scenario) -> float:
    return max(
        scenario.receiver.boot_s,
        *(unit.start_s + unit.boot_s for unit in scenario.transmitter.values()),
    )


ADVICE = "a pass shorter than the timeout (less delay_ms, work or reading), or a longer timeout"


def timeout_within_a_pass(case: Case) -> Iterator[Suspect]:
    """Timers that run out within one pass, so that one without a frame trips them (rule F2)."""
    scenario = case.scenario
    for stream, timer in scenario.failsafe.items():
        counted = case.summary.figures.stream[stream].failsafe
        if counted is None or not counted.nuisance_trips:
            continue
        pass_ns = longest_pass_ns(make_plan(with_slowest_clock(scenario), case.summary.first_start))
        if pass_ns is None or pass_ns <= ns_from_ms(timer.timeout_ms):
            continue
        yield Suspect(
            what=f"one pass that reads nothing of {stream} trips its failsafe: passes are longer "
            "than its timeout",
            where=f"failsafe.{stream}.timeout_ms",
            why=f"passes of up to {ms_from_ns(pass_ns):.3g} ms, a timeout of {timer.timeout_ms:g} "
            f"ms; {counted.nuisance_trips} nuisance trips",
            figure=f"stream.{stream}.failsafe.nuisance_trips",
            removed=_longer_timeout(scenario, case.summary.first_start, stream),
            cures=(
                *((short,) if (short := _short_passes(scenario)) else ()),
                _longer_timeout(scenario, case.summary.first_start, stream),
            ),
            advice=ADVICE,
            measure="toggle a pin once a pass and look at the longest time between two edges",
        )


def _short_passes(scenario: Scenario) -> Overrides:
    """What makes passes short: no waiting, no work, quick reads."""
    receiver = scenario.receiver
    return (
        *(("receiver.delay_ms=0",) if receiver.delay_ms else ()),
        *(("receiver.work=[]",) if receiver.work else ()),
        *(("receiver.loop_ms=1",) if receiver.loop_ms > 1 else ()),
        *(("receiver.spi_overhead_us=10",) if receiver.spi_overhead_us > 10 else ()),
        *(("receiver.unpack_us=100",) if receiver.unpack_us > 100 else ()),
    )


def _longer_timeout(scenario: Scenario, start: int, stream: str) -> Overrides:
    pass_ns = longest_pass_ns(make_plan(with_slowest_clock(scenario), start))
    if pass_ns is None:
        return ()
    return (f"failsafe.{stream}.timeout_ms={2 * ms_from_ns(pass_ns):.0f}",)


def fed_by_other(case: Case) -> Iterator[Suspect]:
    """Failsafes fed by any stream, where there is another."""
    scenario = case.scenario
    for name, failsafe in scenario.failsafe.items():
        if failsafe.fed_by != "any" or len(scenario.transmitter) < 2:
            continue
        if not acting_outputs(scenario, name):
            continue
        key = f"failsafe.{name}.fed_by"
        yield Suspect(
            what=f"nothing but another stream feeds {name}'s failsafe once {name} is silent: it "
            "never trips",
            where=key,
            why=f"{name} switched off for good while the others go on sending",
            figure=FAULT,
            removed=(f"{key}=own",),
            cures=((f"{key}=own",),),
            advice="note the time of the last frame for each stream apart",
            measure=f"{STILL}: switch {name} off under way, the others on",
            drill=drill(scenario, name, "power_off"),
            share=0.0,
        )


PERIODS = 25
"""Periods without a fresh value that a timeout waits for, at most half a second (facts 9: failsafe
delays of 0.1 to 1 s, common practice, no source)."""


def no_failsafe(case: Case) -> Iterator[Suspect]:
    """Streams without a timer that drive something."""
    scenario = case.scenario
    for name, unit in scenario.transmitter.items():
        driven = (key for key, output in scenario.output.items() if output.stream == name)
        outputs = outputs_by_danger(scenario, driven)
        if name in scenario.failsafe or not outputs:
            continue
        period_ms = unit.period_ms or unit.pause_ms or 20.0
        timeout_ms = min(500.0, PERIODS * period_ms)
        cure: tuple[str, ...] = (f"failsafe.{name}.timeout_ms={timeout_ms:g}",)
        # An output that was assumed gets a preset of its own with its stream's failsafe.
        said = [key for key in outputs if key not in assumed_outputs(scenario)]
        if not acting_outputs(scenario, name):
            cure = (*cure, *(f"output.{key}.on_failsafe=off" for key in said))
        yield Suspect(
            what=f"{name} has no failsafe: when its transmitter goes silent, nothing stops "
            f"{', '.join(outputs)}",
            where=f"failsafe.{name}",
            why=f"{name} switched off for good",
            figure=FAULT,
            removed=cure,
            cures=(cure,),
            advice="choose what each output shall do then (on_failsafe)",
            measure=f"{STILL}: switch {name} off and wait",
            drill=drill(scenario, name, "power_off"),
            share=0.0,
        )


def lurch(case: Case) -> Iterator[Suspect]:
    """Motors whose stream asks for nothing before failsafe ends.

    The stick is held where its pulse is farthest from the preset: where it stands in the scenario
    as failsafe ends is chance.
    """
    scenario = case.scenario
    for name, failsafe in scenario.failsafe.items():
        motors = [
            (key, output)
            for key, output in scenario.output.items()
            if output.stream == name
            and output.motor is not None
            and isinstance(output.on_failsafe, Preset)
            and output.kind == "servo"
        ]
        if failsafe.resume_needs is not None or not motors:
            continue
        key, output = motors[0]
        field = max(output.mix, key=lambda part: abs(output.mix[part]))
        low, high = output.value
        cure = f'failsafe.{name}.resume_needs={{field="{field}",within={abs(high - low) / 40:g}}}'
        end = _farthest(scenario, name, field, output)
        yield Suspect(
            what=f"{key} starts with a lurch when {name}'s link comes back with the stick off its "
            "middle",
            where=f"failsafe.{name}.resume_needs",
            why=f"{name} off and on again, the stick held at one end; how far {key}'s pulse jumps "
            "at once, us",
            figure=f"{LURCH}.{key}",
            removed=(cure,),
            cures=((cure,),),
            advice="outputs stay on failsafe until the stick has been near its middle",
            measure=f"{STILL}: switch {name} off and on with the stick held forward",
            drill=(
                *interruption(scenario, name),
                f'transmitter.{name}.signals.{field}={{kind="constant",value={end!r}}}',
            ),
        )


def _farthest(scenario: Scenario, stream: str, field: str, output: Output) -> float:
    """Where in a field's range an output's level is farthest from its preset."""
    layout, weight = scenario.layout_of(stream), output.mix[field]
    part = layout.fields[layout.index_of(field)]
    ends = [min(max(end / weight, part.minimum), part.maximum) for end in output.value]
    scale, preset = scale_of(output), preset_level(output)

    def distance(value: float) -> float:
        return abs(float(level_of(scale, weight * value)) - preset)

    return max(ends, key=distance)
