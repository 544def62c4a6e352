"""Scenarios that drills are tried on."""

import msgspec
from hypothesis import strategies as st
from msgspec.structs import replace

from radiosim.scenario import Scenario, parse
from radiosim.study.drill.drill import DrillOptions, drill_failsafe
from radiosim.study.drill.drill_kinds import drilled_kinds
from radiosim.study.drill.results import Drilled

KINDS = drilled_kinds()

BASE = """
duration_s = 60
radio.profile = "gfsk-1M"
air.loss = 0.02
[layout.drive]
fields = [{ name = "count", type = "u8" }, { name = "pull", type = "u8" }]
[transmitter.drive]
layout = "drive"
period_ms = 20
signals.count = { kind = "counter" }
[output.motor]
stream = "drive"
field = "pull"
on_failsafe = { preset_us = 1500 }
"""
HEAD = """
[transmitter.head]
period_ms = 23
payload_bytes = 4
[failsafe.head]
timeout_ms = 300
[output.pan]
stream = "head"
field = "value"
on_failsafe = { preset_us = 1500 }
"""
TIMER = "[failsafe.drive]\ntimeout_ms = 250\n"


_DRILLED: dict[tuple[bytes, tuple[str, ...], int, float], Drilled] = {}


def scenario_with(more: str = TIMER, *overrides: str) -> Scenario:
    """One transmitter, one motor."""
    return parse(BASE + more, overrides=overrides)


def only(*kinds: str) -> tuple[str, ...]:
    """What to leave out so that some kinds are left."""
    return tuple(kind for kind in KINDS if kind not in kinds)


def drilled(scenario: Scenario, *kinds: str, repeats: int = 32, hours: float = 0.02) -> Drilled:
    """Some drills of a scenario, in this process; all of them if none are named. Once a session."""
    key = (msgspec.json.encode(scenario), kinds, repeats, hours)
    if key not in _DRILLED:
        skip = only(*kinds) if kinds else ()
        drill_options = DrillOptions(repeats=repeats, skip=skip, hours=hours, workers=1)
        _DRILLED[key] = drill_failsafe(scenario, drill_options)
    return _DRILLED[key]


def rare(resume_frames: int = 4) -> Scenario:
    """A beacon: two frames a second, and some of them in a row to come alive."""
    made = parse(BASE + f"[failsafe.drive]\ntimeout_ms = 1600\nresume_frames = {resume_frames}\n")
    slow = replace(made.transmitter["drive"], period_ms=500.0, boot_s=0.0)
    at_once = replace(made.receiver, boot_s=0.0)
    return replace(made, transmitter={"drive": slow}, receiver=at_once)


ACTIONS = ("{ preset_us = 1500 }", '"off"', '"hold"')
LOAD = "load = { moving_ma = 300, start_ma = 700 }\n"
WEAK, STRONG = (
    f"voltage_v = 5\nresistance_mohm = {mohm}\nbrownout_v = 4.5\n" for mohm in (800, 500)
)
_COUNTER = 'signals.count = { kind = "counter" }'
_FULL = HEAD.replace("payload_bytes = 4", "payload_bytes = 32")
_WITHOUT_TIMER = HEAD.replace("[failsafe.head]\ntimeout_ms = 300\n", "")
_GIVEN_NO_OUTPUT = "[transmitter.head]\nperiod_ms = 23\npayload_bytes = 1\n"


@st.composite
def texts(draw: st.DrawFn) -> str:
    """Receiver programs, timers, frames and outputs of all kinds; times in odd and even numbers."""
    output = _second_output(draw)
    head = draw(st.sampled_from(("", HEAD, _FULL, _WITHOUT_TIMER, _GIVEN_NO_OUTPUT)))
    timer = _timer(draw) if draw(st.sampled_from((True, True, False))) else ""
    text = BASE.replace("air.loss = 0.02", f"air.loss = {draw(st.sampled_from((0, 0.02, 0.4)))}")
    text = text.replace(
        "period_ms = 20", f"period_ms = {draw(st.sampled_from((9.7, 20, 33)))}"
    ).replace(_COUNTER, draw(st.sampled_from((_COUNTER, ""))))
    return text + _receiver(draw) + timer + output + head


def _second_output(draw: st.DrawFn) -> str:
    kind = draw(st.sampled_from(("servo", "pwm", "pin")))
    action = draw(st.sampled_from(ACTIONS))
    if kind != "servo":
        action = action.replace("preset_us = 1500", "preset = 0")
    motor = draw(st.sampled_from(("", "motor = { stop_s = 0.2, signal_loss_ms = 130 }\n")))
    load = draw(st.sampled_from(("", LOAD if kind != "servo" else f"{LOAD}servo = {{}}\n")))
    if load:
        motor = "" if kind == "servo" else motor
        load += f"[receiver.supply]\n{draw(st.sampled_from((WEAK, STRONG)))}"
    return (
        f'[output.second]\nstream = "drive"\nfield = "pull"\nkind = "{kind}"\n'
        f"on_failsafe = {action}\n{motor}{load}"
    )


def _receiver(draw: st.DrawFn) -> str:
    return (
        f'[receiver]\nread = "{draw(st.sampled_from(("one", "all", "newest")))}"\n'
        f"interrupt = {draw(st.sampled_from(('true', 'false')))}\n"
        f"loop_ms = {draw(st.sampled_from((0.7, 1, 5, 13, 50, 310)))}\n"
        f"spi_overhead_us = {draw(st.sampled_from((10, 10, 500)))}\n"
        f"unpack_us = {draw(st.sampled_from((0, 0, 90)))}\n"
        f"clock_tick_ms = {draw(st.sampled_from((0, 0, 1, 30)))}\n"
        f'clock = "{draw(st.sampled_from(("crystal", "internal")))}"\n'
        f"watchdog_ms = {draw(st.sampled_from((0, 150)))}\n"
        f"work = {draw(st.sampled_from(('[]', '[{ every_ms = 70, takes_ms = 9 }]')))}\n"
    )


def _timer(draw: st.DrawFn) -> str:
    return (
        f"[failsafe.drive]\ntimeout_ms = {draw(st.sampled_from((60, 101.3, 250, 400)))}\n"
        f'fed_by = "{draw(st.sampled_from(("own", "any")))}"\n'
        f'fed_at = "{draw(st.sampled_from(("read", "arrival")))}"\n'
        f'watch_field = "{draw(st.sampled_from(("", "", "count")))}"\n'
    )
