"""What to do, how to measure, and where to look, by kind of fault."""

from collections.abc import Sequence

from radiosim.engine.plan import RECEIVER
from radiosim.scenario import Scenario
from radiosim.study.bench.step import UNTOUCHED, key_of
from radiosim.study.drill.drill_kinds import ALL, Drill

FLOATS = "no pulses"
_TITLES = {
    "power_off": "Off and on again",
    "brownout": "Browns out",
    "radio_reset": "Radio loses its settings",
    "reset": "Resets",
    "hang": "Program hangs",
    "stale": "Repeats old values",
}
"""In the order in which to try them: the supply, a button, firmware made for it."""
_DO = {
    "power_off": "Switch its supply off, then on again.",
    "brownout": "{supply}, and on again after half a second.",
    "radio_reset": "Cut the supply of its radio alone for 20 ms, its program running.",
    "reset": "Press its reset button and let go.",
    "hang": "Flash it with a build that, on a button, stays in an empty endless loop.",
    "stale": (
        "Flash it with a build that, while a button is down, sends its last frame unchanged."
    ),
}
_OVER = {
    "power_off": "switching on",
    "brownout": "the supply's return",
    "radio_reset": "the end of the cut",
    "reset": "pressing it",
    "hang": "the watchdog's reset",
    "stale": "letting go of the button",
}
_IF_NOT = {
    "brownout": (
        "Back later: the start-up takes longer: receiver.boot_s. A twitch at power-on: "
        "{output}.at_start."
    ),
    "radio_reset": (
        "Never back: the firmware does not look at the radio's settings again: {recheck_ms}."
    ),
    "reset": (
        "Back later: the start-up takes longer: {boot_s}. Old values come first: "
        "receiver.flush_on_boot. It jumps as it comes back: {failsafe}.resume_frames, "
        "resume_needs."
    ),
    "hang": "Not back: the watchdog is not on, or a timer feeds it: {watchdog_ms}.",
    "stale": (
        "Goes on for ever: the firmware feeds the timer with any frame: {failsafe}.watch_field."
    ),
}
OUTSIDE = (
    "Later than 'at most': something else feeds the timer ({failsafe}.fed_by), or a pass is longer "
    "than the scenario's (receiver.loop_ms, delay_ms, work). Sooner: the timeout is not "
    "{failsafe}.timeout_ms. Never: do not run the vehicle."
)
HOW = (
    "All on and steering. Ten times each, each at another moment; write the shortest and the "
    "longest: one of the ten may lie a little outside its predicted range. Logic analyser on the "
    "supply or button that you use and on the outputs, or a camera at 240 pictures a second with a "
    "lamp on it. Reaction: from there until the output shows what it must. Back: from where the "
    "step says to the end of the first pulse that follows again. "
    f"{UNTOUCHED[:1].upper()}{UNTOUCHED[1:]}: goes on as if nothing had happened."
)
_LETS_GO = " Motor cut: no pulses, and its controller has noticed; measure at the motor."


def how_text(scenario: Scenario) -> str:
    """How every fault is timed."""
    notice = any(
        output.motor and output.motor.signal_loss_ms for output in scenario.output.values()
    )
    return HOW + _LETS_GO if notice else HOW


def kinds_in_order(drills: Sequence[Drill]) -> list[str]:
    """Kinds of fault, those next to each other that take the same hand."""
    known = list(_TITLES)
    return sorted({drill.kind for drill in drills}, key=known.index)


def title_text(kind: str) -> str:
    """What happens to the unit."""
    return _TITLES[kind]


def case_text(drill: Drill) -> str:
    """The unit as the sheet names it."""
    return "all transmitters" if drill.unit == ALL else drill.unit


def do_text(scenario: Scenario, kind: str) -> str:
    """What to do to a unit."""
    return _DO[kind].format(supply=_supply(scenario))


def measure_text(kind: str) -> str:
    """From where its end is measured."""
    return f"Back: from {_OVER[kind]}."


def over_text(kind: str) -> str:
    """What ends it."""
    return _OVER[kind]


def if_not_text(scenario: Scenario, kind: str, drills: Sequence[Drill]) -> str:
    """What a measurement outside its range most likely means, beyond what holds for every kind."""
    units = [drill.unit for drill in drills if drill.unit not in (RECEIVER, ALL)]
    tables = [key_of("transmitter", units)] if units else []
    if any(drill.unit == RECEIVER for drill in drills):
        tables.append(RECEIVER)
    keys = {
        key: ", ".join(f"{table}.{key}" for table in tables)
        for key in ("boot_s", "recheck_ms", "watchdog_ms")
    }
    return _IF_NOT.get(kind, "").format(
        failsafe=failsafe_key(scenario), output=key_of("output", tuple(scenario.output)), **keys
    )


def failsafe_key(scenario: Scenario) -> str:
    """The table of the only stream's timer, or of each."""
    return key_of("failsafe", tuple(scenario.transmitter))


def _supply(scenario: Scenario) -> str:
    if scenario.receiver.radio_survives:
        return "Switch the supply of the receiver's microcontroller off, its radio's left on"
    return "Switch the receiver's supply off, radio and all"
