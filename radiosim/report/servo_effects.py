"""What a field comes to at the outputs: how far one step turns a servo, what a misreading does."""

import math
from collections.abc import Iterator

from msgspec import Struct

from radiosim.layout import Field, Layout
from radiosim.layout.compare import Misreading
from radiosim.layout.field import is_counter, is_spare, is_version
from radiosim.results.formats import fmt_exact, fmt_sig3
from radiosim.scenario import Scenario
from radiosim.scenario.structs.output_table import Output, Servo

FEWEST_STEPS = 16
"""A field with fewer is a switch, which turns no servo."""
LARGEST_RANGE = 1e9
"""A field with a wider one has none that a control could use."""


_SHARES = {0.25: "a quarter", 0.5: "half", 0.75: "three quarters", 1.0: "full"}
_CLOSE = 0.02
_DRIVES = ("throttle", "speed", "drive", "motor", "esc", "track", "power")


class ServoView(Struct, frozen=True, kw_only=True):
    """One step of a field at one servo."""

    output: str | None
    """Name of the output; None for a servo that is assumed to turn over the field's range."""
    step_us: float
    """Change of the pulse for one step on the wire."""
    step_deg: float
    """Change of the servo's aim for it."""
    dead_band_us: float
    """Change that the servo does not follow."""
    is_felt: bool
    """Whether the servo follows a single step."""


def servo_views(layout: Layout, field: Field, scenario: Scenario | None) -> tuple[ServoView, ...]:
    """The servos of the scenario that follow a field; without a scenario the usual one, if any.

    The usual one turns over all its travel as the field goes over all its range (facts 9: common
    practice).
    """
    if scenario is not None:
        return tuple(_of_scenario(layout, field, scenario))
    if not _can_turn(field):
        return ()
    servo, spaces = Servo(), field.steps - 1
    low_us, high_us = servo.over_us
    return (_view(None, servo, (high_us - low_us) / spaces, servo.travel_deg / spaces),)


def _view(output: str | None, servo: Servo, step_us: float, step_deg: float) -> ServoView:
    return ServoView(
        output=output,
        step_us=step_us,
        step_deg=step_deg,
        dead_band_us=servo.dead_band_us,
        is_felt=step_us > servo.dead_band_us,
    )


def outputs_of(layout: Layout, scenario: Scenario | None) -> dict[str, Output]:
    """Outputs of a scenario that follow streams with this layout."""
    if scenario is None:
        return {}
    streams = {name for name, unit in scenario.transmitter.items() if unit.layout == layout.name}
    return {name: out for name, out in scenario.output.items() if out.stream in streams}


def _of_scenario(layout: Layout, field: Field, scenario: Scenario) -> Iterator[ServoView]:
    for name, output in outputs_of(layout, scenario).items():
        weight = abs(output.mix.get(field.name, 0.0))
        if output.kind != "servo" or not weight or not field.resolution:
            continue
        servo = output.servo or Servo()
        low, high = output.value
        first, last = output.pulse_us
        step_us = weight * field.resolution / abs(high - low) * abs(last - first)
        travel_us = abs(servo.over_us[1] - servo.over_us[0])
        yield _view(name, servo, step_us, step_us / travel_us * servo.travel_deg)


def _can_turn(field: Field) -> bool:
    """May a field without a scenario be a control?"""
    is_other = is_counter(field.name) or is_version(field.name) or is_spare(field.name)
    is_wide = field.maximum - field.minimum > LARGEST_RANGE
    return not is_other and not is_wide and field.steps >= FEWEST_STEPS


def effect_of(field: Field, transmitter: Field | None, misreading: Misreading) -> str:
    """What the worst misreading of a receiver's field comes to, in words.

    `transmitter`: the transmitter's field of that name, whose range is its own.
    """
    read = amount(field, misreading.read)
    if misreading.sent is None:
        return f"{field.name} was not sent and reads as {read}"
    sent = amount(transmitter or field, misreading.sent)
    if sent == read:
        read = f"{fmt_exact(misreading.read)}, not {fmt_exact(misreading.sent)}"
    return f"{field.name} at {sent} reads as {read}"


def amount(field: Field, value: float) -> str:
    """A value as a share of its field's range from rest; beyond its ends, the end."""
    if math.isnan(value):
        return "no number"
    rest = min(max(field.neutral, field.minimum), field.maximum)
    if field.maximum - field.minimum > LARGEST_RANGE or field.steps == 2:
        return fmt_exact(value)
    if abs(value - rest) < max(field.resolution / 2, 1e-12):
        return "rest"
    span = field.maximum - rest if value > rest else rest - field.minimum
    if span <= 0:
        return fmt_exact(value)
    share = min(abs(value - rest) / span, 1.0)
    word = next((w for s, w in _SHARES.items() if abs(share - s) <= _CLOSE), None)
    text = word or f"{fmt_sig3(100 * share)} %"
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
            yield f"{name}: {fmt_exact(round(made, 1))} us instead of {fmt_exact(round(meant, 1))}"


def _pulse_us(layout: Layout, output: Output, field: Field, value: float) -> float:
    """Pulse for a value of one field, those of the others at rest (rule G2)."""
    mixed = math.fsum(
        weight * (value if name == field.name else layout.fields[layout.index_of(name)].neutral)
        for name, weight in output.mix.items()
    )
    low, high = sorted(output.value)
    share = (min(max(mixed, low), high) - low) / (high - low)
    first, last = output.pulse_us
    return min(max(first + share * (last - first), min(output.limit_us)), max(output.limit_us))
