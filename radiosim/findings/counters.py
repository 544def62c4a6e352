"""Counters in frames: whether a stream has one, and how it would get one."""

from radiosim.findings.suspect import Overrides
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

    Empty if there is no room.
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
