"""What a servo sees of a field: how far one step on the wire turns it."""

from collections.abc import Iterator
from dataclasses import dataclass

from radiosim.layout import Field, Layout
from radiosim.layout.field import is_counter, is_spare, is_version
from radiosim.scenario import Scenario
from radiosim.scenario.structs.output_table import Output, Servo

FEWEST_STEPS = 16
"""A field with fewer is a switch, which turns no servo."""
LARGEST_RANGE = 1e9
"""A field with a wider one has none that a control could use."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ServoView:
    """One step of a field at one servo."""

    output: str
    """Name of the output; empty for a servo that is assumed to turn over the field's range."""
    step_us: float
    """Change of the pulse for one step on the wire."""
    step_deg: float
    """Change of the servo's aim for it."""
    dead_band_us: float
    """Change that the servo does not follow."""

    @property
    def is_felt(self) -> bool:
        """Does the servo follow a single step?"""
        return self.step_us > self.dead_band_us


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
    view = ServoView(
        output="",
        step_us=(high_us - low_us) / spaces,
        step_deg=servo.travel_deg / spaces,
        dead_band_us=servo.dead_band_us,
    )
    return (view,)


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
        yield ServoView(
            output=name,
            step_us=step_us,
            step_deg=step_us / travel_us * servo.travel_deg,
            dead_band_us=servo.dead_band_us,
        )


def _can_turn(field: Field) -> bool:
    """May a field without a scenario be a control?"""
    is_other = is_counter(field.name) or is_version(field.name) or is_spare(field.name)
    is_wide = field.maximum - field.minimum > LARGEST_RANGE
    return not is_other and not is_wide and field.steps >= FEWEST_STEPS
