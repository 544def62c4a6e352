"""Scenarios that drills are tried on."""

import msgspec
from msgspec.structs import replace

from radiosim.scenario import Scenario, parse
from radiosim.study.drill import Drilled, DrillOptions, drill_failsafe
from radiosim.study.drill.drill_kinds import drilled_kinds

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


def scenario_with(more: str = TIMER) -> Scenario:
    """One transmitter, one motor."""
    return parse(BASE + more)


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
    slow = replace(made.transmitter["drive"], period_ms=500.0)
    return replace(made, transmitter={"drive": slow})
