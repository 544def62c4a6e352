"""Findings about what frames hold: still values, stale values, padded lengths (B7, D3, F1)."""

from collections.abc import Iterator

from radiosim.counted import counted
from radiosim.findings.failsafe_findings import acting_outputs, drill
from radiosim.findings.proof import FAULT, Case, Overrides, Suspect
from radiosim.scenario import Scenario
from radiosim.signals import Constant, Counter

NAME = "count"
MOST_BYTES = 32


def counter_of(scenario: Scenario, stream: str) -> str:
    """The field of a stream that goes up with every frame; empty: none."""
    signals = scenario.transmitter[stream].signals
    return next((name for name, s in signals.items() if isinstance(s, Counter)), "")


def counter_for(scenario: Scenario, stream: str) -> Overrides:
    """Keys that give a stream a counter: in a byte that nothing uses, else in a new one.

    Empty if neither fits.
    """
    unit = scenario.transmitter[stream]
    layout = scenario.layout_of(stream)
    for field in layout.fields:
        signal = unit.signals[field.name]
        if isinstance(signal, Constant) and not _is_used(scenario, stream, field.name):
            return (f"transmitter.{stream}.signals.{field.name}.kind=counter",)
    if unit.payload_bytes is not None or layout.size_bytes >= MOST_BYTES:
        return ()
    if any(field.name == NAME for field in layout.fields):
        return ()
    users = [name for name, other in scenario.transmitter.items() if other.layout == unit.layout]
    return (
        f'layout.{unit.layout}.fields[{len(layout.fields)}]={{name="{NAME}",type="u8"}}',
        *(f'transmitter.{name}.signals.{NAME}={{kind="counter"}}' for name in users),
    )


def _is_used(scenario: Scenario, stream: str, field: str) -> bool:
    """Whether an output or a failsafe looks at a field."""
    outputs = (output for output in scenario.output.values() if output.stream == stream)
    failsafe = scenario.failsafe.get(stream)
    watched = () if failsafe is None else (failsafe.watch_field, _needed(scenario, stream))
    return field in watched or any(field in output.mix for output in outputs)


def _needed(scenario: Scenario, stream: str) -> str:
    needs = scenario.failsafe[stream].resume_needs
    return "" if needs is None else needs.field


def still_values(case: Case) -> Iterator[Suspect]:
    """Streams without a counter that lose good frames as duplicates."""
    scenario = case.scenario
    for name, unit in scenario.transmitter.items():
        figures = case.summary.figures.stream[name]
        counter = counter_for(scenario, name)
        if unit.acknowledge is False or counter_of(scenario, name) or not figures.duplicates:
            continue
        if not counter:
            continue
        trips = figures.failsafe is not None and figures.failsafe.nuisance_trips > 0
        leaf = "failsafe.nuisance_trips" if trips else "duplicates"
        yield Suspect(
            what=f"{name}'s frames say the same while nothing moves: after three lost in a row "
            "the next good one is taken for a duplicate and never handed on",
            where=f"layout.{unit.layout}",
            why=f"{counted(figures.duplicates, 'frame')} taken for duplicates; the packet number "
            "has two bits and comes round after four",
            figure=f"stream.{name}.{leaf}",
            removed=counter,
            cures=(counter,),
            advice="a counter that goes up with every frame makes each one new",
            measure="hold the sticks still, cover the antenna for some frames, and watch whether "
            "the receiver's program sees the first one after it",
        )


def stale_values(case: Case) -> Iterator[Suspect]:
    """Failsafes that watch no field."""
    scenario = case.scenario
    for name, failsafe in scenario.failsafe.items():
        cure = _watched(scenario, name)
        if failsafe.watch_field or not acting_outputs(scenario, name) or not cure:
            continue
        yield Suspect(
            what=f"no timeout catches {name} when it hangs and repeats its last values",
            where=f"failsafe.{name}.watch_field",
            why=f"{name}'s values stale for good, its radio still sending",
            figure=FAULT,
            removed=cure,
            cures=(cure,),
            advice="feed the timer only when a counter in the frame has changed",
            measure=f"wheels off the ground: make {name}'s firmware send one frame again and again",
            drill=drill(scenario, name, "stale"),
            share=0.0,
        )


def _watched(scenario: Scenario, stream: str) -> Overrides:
    field = counter_of(scenario, stream)
    if field:
        return (f"failsafe.{stream}.watch_field={field}",)
    counter = counter_for(scenario, stream)
    if not counter:
        return ()
    added = "count" if "fields[" in counter[0] else counter[0].split(".")[3]
    return (*counter, f"failsafe.{stream}.watch_field={added}")


def fixed_length(case: Case) -> Iterator[Suspect]:
    """A link with a fixed length that all frames fall short of."""
    scenario = case.scenario
    length = scenario.radio.payload_length
    if length == "own":
        return
    sizes = {name: scenario.layout_of(name).size_bytes for name in scenario.transmitter}
    name = min(sizes, key=lambda stream: sizes[stream])
    yield Suspect(
        what=f"every frame is padded to {length} bytes, and is on the air for longer than its "
        "values need",
        where="radio.payload_length",
        why=f"{name} has {sizes[name]} bytes to say",
        figure=f"stream.{name}.duty_cycle",
        removed=("radio.payload_length=own",),
        cures=(
            ("radio.payload_length=own",),
            (f"radio.payload_length={max(sizes.values())}",),
        ),
        advice="set the length on all radios alike",
        measure="watch the supply current of the transmitter: its peaks are as long as the frames",
    )
