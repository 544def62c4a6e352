"""`layout compare`: both directions, each way to set the length, field by field."""

import re
from collections.abc import Iterator
from itertools import groupby

from rich.console import Console, RenderableType
from rich.text import Text

from radiosim.layout import Layout
from radiosim.layout.compare import Comparison, FieldReading, Outcome
from radiosim.report.layouts.effect import effect_of, pulses_of
from radiosim.report.layouts.show import head
from radiosim.report.terminal.parts import Trimmed, block, hanging
from radiosim.report.terminal.words import share
from radiosim.scenario import Scenario
from radiosim.scenario.named_layout import NamedLayout

DIRECTIONS = {
    "new_to_old": "New transmitter, old receiver",
    "old_to_new": "Old transmitter, new receiver",
}
LENGTHS = {
    "own": "each frame its own length, receiver does not check it",
    "fixed": "each radio set to its own frame's length",
    "padded": "both radios set to {} bytes",
}
_CHOSEN = (
    "What is read is the worst of all values; where these are more than 65,536, of each field's "
    "edges and of 65,536 values spread evenly."
)
_COLOURS: dict[str, str] = {
    "compatible": "green",
    "misread": "bold red",
    "rejected": "",
    "refused": "",
}


def print_comparison(
    compared: Comparison, old: NamedLayout, new: NamedLayout, console: Console
) -> None:
    """Print what two firmwares make of each other's frames, 80 columns wide."""
    console.print(Trimmed(part=Text(f"old  {head(old)}", style="bold")))
    console.print(Trimmed(part=Text(f"new  {head(new)}", style="bold")))
    if compared.versions is not None:
        old_number, new_number = compared.versions
        console.print(f"version fields: old {old_number}, new {new_number}")
    console.print()
    for name, title in DIRECTIONS.items():
        console.print(Trimmed(part=block(title, *_direction(compared, name, old, new))))
    if _is_chosen(compared):
        console.print(Trimmed(part=Text(_CHOSEN)))


def _is_chosen(compared: Comparison) -> bool:
    """Was any misreading found among chosen values, since all were too many?"""
    return any(
        reading.how == "chosen values"
        for direction in (compared.new_to_old, compared.old_to_new)
        for outcome in (direction.own, direction.padded)
        for reading in outcome.fields
    )


def receiver_of(compared: Comparison, direction: str) -> Layout:
    """The layout that the receiving end of a direction has."""
    return compared.old if direction == "new_to_old" else compared.new


def scenario_of(direction: str, old: NamedLayout, new: NamedLayout) -> Scenario | None:
    """The scenario in which the receiver of a direction drives its outputs."""
    return old.scenario if direction == "new_to_old" else new.scenario


def effects(receiver: Layout, reading: FieldReading, scenario: Scenario | None) -> tuple[str, ...]:
    """What the worst misreading of a field comes to, in words and in pulses."""
    if reading.worst is None:
        return ()
    field = receiver.fields[receiver.index_of(reading.name)]
    pulses = pulses_of(receiver, field, reading.worst, scenario)
    return (effect_of(field, reading.worst), *pulses)


def verdict_text(outcome: Outcome) -> str:
    """A verdict with what decided it."""
    text: str = outcome.verdict
    if outcome.passes and outcome.verdict == "misread":
        text += f" in {share(outcome.passes)} of frames, which pass as the right version"
    return f"{text}: {outcome.why}" if outcome.why else text


def _direction(
    compared: Comparison, name: str, old: NamedLayout, new: NamedLayout
) -> Iterator[RenderableType]:
    direction = compared.new_to_old if name == "new_to_old" else compared.old_to_new
    receiver = receiver_of(compared, name)
    rows = []
    outcomes = (direction.own, direction.fixed, direction.padded)
    for outcome in outcomes:
        length = LENGTHS[outcome.length].format(compared.padded_to_bytes)
        style = _COLOURS[outcome.verdict]
        rows.append((length, Text(verdict_text(outcome), style=style)))
    yield hanging(rows)
    shown: list[tuple[FieldReading, ...]] = []
    for outcome in outcomes:
        if outcome.verdict == "misread" and outcome.fields not in shown:
            shown.append(outcome.fields)
            yield Text(f"\nfields, {LENGTHS[outcome.length].format(compared.padded_to_bytes)}:")
            yield _fields(receiver, outcome.fields, scenario_of(name, old, new))


def _fields(
    receiver: Layout, readings: tuple[FieldReading, ...], scenario: Scenario | None
) -> RenderableType:
    lines = [
        (
            reading,
            "; ".join(
                part for part in (reading.says, *effects(receiver, reading, scenario)) if part
            ),
        )
        for reading in readings
    ]
    rows = []
    for _, run in groupby(lines, key=_likeness):
        same = list(run)
        (first, text), (last, _) = same[0], same[-1]
        name = first.name if first is last else f"{first.name} to {last.name}"
        rows.append((f"  {name}", Text(first.verdict, style=_COLOURS[first.verdict]), text))
    return hanging(rows)


def _likeness(line: tuple[FieldReading, str]) -> tuple[str, ...]:
    """The same for neighbours in an array of which the same is to be said."""
    reading, text = line
    array = re.fullmatch(r"(.*)_\d+", reading.name)
    if array is None:
        return reading.name, reading.verdict, text
    return array[1], reading.verdict, text.replace(reading.name, array[1])
