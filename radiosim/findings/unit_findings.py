"""Findings about units that fail with nothing to end it: programs that hang, radios that stay lost
(rule E3)."""

from collections.abc import Iterator

from radiosim.engine.plan_units import RECEIVER
from radiosim.findings.case import Case
from radiosim.findings.failsafe_findings import drill, drill_of_all
from radiosim.findings.proof import Suspect
from radiosim.safety import STILL
from radiosim.scenario.danger import danger_of_stream, hang_unseen, lost_for_good
from radiosim.study.drill.cures import RECHECK_MS, watchdog_ms


def hung_receiver(case: Case) -> Iterator[Suspect]:
    """Receivers whose program nothing resets."""
    scenario = case.scenario
    driven = hang_unseen(scenario)
    if not driven:
        return
    cure = (f"receiver.watchdog_ms={watchdog_ms(scenario)}",)
    yield Suspect(
        what="a receiver that hangs is never reset: its pulses go on, and nothing stops "
        f"{', '.join(driven)}",
        where="receiver.watchdog_ms",
        why=f"the receiver's program hangs for good; the oldest value that {driven[0]} obeys",
        figure=f"output.{driven[0]}.age_ms.max",
        removed=cure,
        cures=(cure,),
        advice="a watchdog, fed once a pass and never by a timer, resets a program that hangs",
        measure=f"{STILL}: flash the receiver with a build that, on a button, stays in an empty "
        "endless loop",
        drill=drill(scenario, RECEIVER, "hang"),
    )


def lost_settings(case: Case) -> Iterator[Suspect]:
    """Radios that nothing sets up again once a supply dip took their settings."""
    scenario = case.scenario
    lost = lost_for_good(scenario)
    if not lost:
        return
    keys = [f"{name if name == RECEIVER else f'transmitter.{name}'}.recheck_ms" for name in lost]
    cure = tuple(f"{key}={RECHECK_MS}" for key in keys)
    cut = tuple(scenario.transmitter) if RECEIVER in lost else lost
    stream = min(cut, key=lambda name: danger_of_stream(scenario, name))
    yield Suspect(
        what="a radio that loses its settings in a supply dip stays lost until its power is "
        f"switched off and on: {', '.join(lost)}",
        where=keys[0],
        why=f"the radio of {', '.join(lost)} loses its settings once; the longest gap of {stream}",
        figure=f"stream.{stream}.gap_ms.max",
        removed=cure,
        cures=(cure,),
        advice="a program that reads a setting back now and then sets a lost radio up again",
        measure=f"{STILL}: cut the supply of one radio alone for 20 ms, its program running; on "
        "one board with the processor let a build write its registers back instead",
        drill=drill_of_all(scenario, lost, "radio_reset"),
    )
