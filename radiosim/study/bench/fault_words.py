"""What to do, how to measure, and where to look, by kind of fault."""

from radiosim.engine.plan import RECEIVER
from radiosim.scenario import Scenario
from radiosim.study.drill.kinds import ALL, Drill

FLOATS = "no pulses"
_DO = {
    "power_off": "All on and steering. Switch {unit} off at the supply, then on again.",
    "frozen": (
        "Flash {unit} with a build that, while a button is down, sends its last frame unchanged."
    ),
    "radio_reset": "Cut the supply of the radio of {unit} alone for 20 ms, its program running.",
    "hang": "Flash {unit} with a build that, on a button, stays in an empty endless loop.",
    "brownout": "{supply}, and on again after half a second.",
    "reset": "Press the reset button of {unit} and let go.",
}
_OVER = {
    "power_off": "switching on again",
    "frozen": "letting go of the button",
    "radio_reset": "the end of the cut",
    "hang": "the watchdog's bite",
    "brownout": "the supply's return",
    "reset": "pressing the button",
}
_SILENT = (
    "Later than the bound: the timer is fed by something else (failsafe.{stream}.fed_by), or a "
    "pass is longer than the scene's (receiver.pass_ms, delay_ms, work). Sooner: the timeout is "
    "not failsafe.{stream}.timeout_ms. Never: do not run the vehicle."
)
_IF_NOT = {
    "power_off": _SILENT,
    "frozen": (
        "Goes on for ever: the firmware feeds the timer with any frame: "
        "failsafe.{stream}.watch_field."
    ),
    "radio_reset": (
        "Never back: the firmware does not look at the radio's settings again: "
        "{path}.recheck_ms. " + _SILENT
    ),
    "hang": "Not back: the watchdog is not on, or a timer feeds it: {path}.watchdog_ms.",
    "brownout": (
        "Back later: the start-up takes longer: receiver.boot_s. A twitch at power-on: "
        "output.*.at_start."
    ),
    "reset": (
        "Back later: the start-up takes longer: {path}.boot_s. Old values come first: "
        "receiver.flush_on_boot. It jumps as it comes back: failsafe.{stream}.resume_frames, "
        "resume_needs."
    ),
}


def asked(drill: Drill) -> str:
    """The unit as a title names it."""
    return "all senders" if drill.unit == ALL else drill.unit


def over_text(drill: Drill) -> str:
    """From where its end is measured."""
    return _OVER[drill.kind]


def do_text(scenario: Scenario, drill: Drill) -> str:
    """What to do, and how often."""
    text = _DO[drill.kind].format(unit=_unit(drill), supply=_supply(scenario))
    return f"{text} Ten times, each at another moment."


def how_text(drill: Drill) -> str:
    """How to measure from the fault to the stop, and from its end to the return."""
    falls = drill.kind in ("power_off", "brownout", "radio_reset")
    trigger = "the supply falls" if falls else "the button goes down"
    return (
        "Logic analyser on that line and on the outputs, or a camera at 240 pictures a second "
        f"with a lamp on that line: from where {trigger} to where the output shows what it must; "
        f"then from {_OVER[drill.kind]} to the end of the first pulse that follows again."
    )


def if_not_text(scenario: Scenario, drill: Drill) -> str:
    """What a measurement outside the bands most likely means."""
    streams = drill.streams(scenario)
    path = RECEIVER if drill.unit == RECEIVER else f"transmitter.{drill.unit}"
    return _IF_NOT[drill.kind].format(stream=streams[0] if len(streams) == 1 else "*", path=path)


def _unit(drill: Drill) -> str:
    if drill.unit == ALL:
        return "all senders at once"
    return "the receiver" if drill.unit == RECEIVER else drill.unit


def _supply(scenario: Scenario) -> str:
    if scenario.receiver.radio_survives:
        return "Switch the supply of the receiver's microcontroller off, its radio's left on"
    return "Switch the receiver's supply off, radio and all"
