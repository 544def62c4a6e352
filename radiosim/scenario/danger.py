"""What an output can do if nothing stops it, and so what is said first."""

import re
from collections.abc import Iterable
from enum import IntEnum

from radiosim.scenario.structs.output_table import Output
from radiosim.scenario.structs.scenario_file import Scenario

MOTOR_NAMES = re.compile(
    r"throttle|speed|motor|engine|drive|track(?!er)|propel|rotor|blade|mower|saw|cutter|winch",
    re.IGNORECASE,
)
"""Names of what a motor turns."""
SWITCH_NAMES = re.compile(r"lamp|light|horn|switch|relay|laser|button", re.IGNORECASE)
"""Names of what is on or off."""
_LOOK_NAMES = re.compile(r"pan|tilt|look|camera|gimbal|lamp|light|horn|buzzer", re.IGNORECASE)


class Danger(IntEnum):
    """What an output moves, the worst first."""

    DRIVES = 0
    """Motors, blades and tracks: what runs away, or cuts."""
    MOVES = 1
    """What steers, lifts or switches, and what nothing is known of."""
    LOOKS = 2
    """A camera's pan and tilt, lamps and horns: what goes nowhere."""


def danger_of(name: str, output: Output) -> Danger:
    """What an output moves, by its motor and kind, else by its name and those of its fields.

    Names give an order, and no more: nothing is claimed by them.
    """
    names = (name, *output.mix)
    if output.motor is not None or output.kind == "pwm" or any(map(MOTOR_NAMES.search, names)):
        return Danger.DRIVES
    return Danger.LOOKS if any(map(_LOOK_NAMES.search, names)) else Danger.MOVES


def outputs_by_danger(scenario: Scenario, outputs: Iterable[str]) -> tuple[str, ...]:
    """Names of outputs, the worst that may go on first; those alike stay in their order."""
    return tuple(sorted(outputs, key=lambda name: danger_of(name, scenario.output[name])))


def danger_of_stream(scenario: Scenario, stream: str) -> Danger:
    """The worst that a stream moves."""
    return min(
        (danger_of(name, o) for name, o in scenario.output.items() if o.stream == stream),
        default=Danger.LOOKS,
    )


def streams_by_danger(scenario: Scenario) -> tuple[str, ...]:
    """Names of a scenario's streams, those that move the worst first."""
    return tuple(sorted(scenario.transmitter, key=lambda name: danger_of_stream(scenario, name)))


def must_stop(scenario: Scenario) -> tuple[str, ...]:
    """Outputs that nobody wants to go on after a fault, the worst first.

    Those that do something on failsafe, have no failsafe at all, or have a motor.
    """
    return outputs_by_danger(
        scenario,
        (
            name
            for name, output in scenario.output.items()
            if output.stream not in scenario.failsafe
            or output.on_failsafe != "hold"
            or output.motor is not None
        ),
    )


def frozen_unseen(scenario: Scenario, stream: str) -> tuple[str, ...]:
    """Outputs that a transmitter which repeats its last values keeps driven: its frames feed its
    timer as new ones do (rule F1)."""
    timer = scenario.failsafe.get(stream)
    if timer is None or timer.watch_field:
        return ()
    return tuple(name for name in must_stop(scenario) if scenario.output[name].stream == stream)


def hang_unseen(scenario: Scenario) -> tuple[str, ...]:
    """Outputs that a receiver keeps driven whose program hangs: no watchdog resets it (rule E3)."""
    return () if scenario.receiver.watchdog_ms else must_stop(scenario)


def lost_for_good(scenario: Scenario) -> tuple[str, ...]:
    """Units whose radio stays lost once it has lost its settings: nothing looks at them again."""
    looks_ms = {"receiver": scenario.receiver.recheck_ms}
    looks_ms |= {name: unit.recheck_ms for name, unit in scenario.transmitter.items()}
    return tuple(name for name, recheck_ms in looks_ms.items() if not recheck_ms)
