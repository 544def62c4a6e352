"""A misreading in the output's terms: half throttle reads as full reverse."""

import math
from collections.abc import Iterator

from radiosim.layout import Field, Layout
from radiosim.layout.compare import Misreading
from radiosim.report.layouts.servo_view import LARGEST_RANGE, outputs_of
from radiosim.report.terminal.words import digits, limit
from radiosim.scenario import Scenario
from radiosim.scenario.structs.output_table import Output

_SHARES = {0.25: "a quarter", 0.5: "half", 0.75: "three quarters", 1.0: "full"}
_CLOSE = 0.02
_DRIVES = ("throttle", "speed", "drive", "motor", "esc", "track", "power")


def effect_of(field: Field, misreading: Misreading) -> str:
    """What the worst misreading of a receiver's field comes to, in words."""
    read = amount(field, misreading.read)
    if misreading.sent is None:
        return f"{field.name} was not sent and reads as {read}"
    sent = amount(field, misreading.sent)
    if sent == read:
        read = f"{limit(misreading.read)}, not {limit(misreading.sent)}"
    return f"{field.name} at {sent} reads as {read}"


def amount(field: Field, value: float) -> str:
    """A value as a share of its field's range from rest; beyond its ends, the end."""
    if math.isnan(value):
        return "no number"
    rest = min(max(field.neutral, field.minimum), field.maximum)
    if field.maximum - field.minimum > LARGEST_RANGE or field.steps == 2:
        return limit(value)
    if abs(value - rest) < max(field.resolution / 2, 1e-12):
        return "rest"
    span = field.maximum - rest if value > rest else rest - field.minimum
    if span <= 0:
        return limit(value)
    share = min(abs(value - rest) / span, 1.0)
    word = next((w for s, w in _SHARES.items() if abs(share - s) <= _CLOSE), None)
    text = word or f"{digits(100 * share)} %"
    if value < rest:
        is_drive = any(word in field.name.lower() for word in _DRIVES)
        text += " reverse" if is_drive else " the other way"
    return text


def pulses_of(
    layout: Layout, field: Field, misreading: Misreading, scenario: Scenario | None
) -> Iterator[str]:
    """What it makes of each servo pulse of the scenario that follows the field, others at rest."""
    if misreading.sent is None or math.isnan(misreading.read):
        return
    for name, output in outputs_of(layout, scenario).items():
        if output.kind == "servo" and output.mix.get(field.name):
            meant, made = (
                _pulse_us(layout, output, field, value)
                for value in (misreading.sent, misreading.read)
            )
            yield f"{name}: {limit(round(made, 1))} us instead of {limit(round(meant, 1))}"


def _pulse_us(layout: Layout, output: Output, field: Field, value: float) -> float:
    """Pulse for a value of one field, those of the others at rest (rule G2)."""
    mixed = sum(
        weight * (value if name == field.name else layout.fields[layout.index_of(name)].neutral)
        for name, weight in output.mix.items()
    )
    low, high = sorted(output.value)
    share = (min(max(mixed, low), high) - low) / (high - low)
    first, last = output.pulse_us
    return min(max(first + share * (last - first), min(output.limit_us)), max(output.limit_us))
