"""Steps that break the link on purpose: each unit off, reset, hung, frozen (rules E3 and F6)."""

from collections.abc import Iterator, Mapping, Sequence

from radiosim.engine.plan import Plan, make_plan
from radiosim.scenario import Scenario
from radiosim.scenario.structs.output import Output, Preset
from radiosim.study.bench.band import band_of
from radiosim.study.bench.step import ALIVE, Prediction, Step, exact, to_see
from radiosim.study.drill.drilled import has_bound, reachable_ms, why_alive
from radiosim.study.drill.faults import RECEIVER, Drill, drills_of
from radiosim.study.drill.tried import Attempt, milliseconds
from radiosim.vehicle.stopping import bound_of, clock_width_ppb, with_slowest_clock

CHAPTER = "Failsafe"
_NOT_ON_A_BENCH = ("out_of_range", "jam")
"""Too far, and against the law."""
_DO = {
    "power_off": "All on and steering. Switch {units} off at its supply, not by its program.",
    "frozen": (
        "Flash {units} with a build that, while a button is down, sends its last frame unchanged."
    ),
    "radio_reset": (
        "Cut the supply of the receiver's radio alone for 20 ms (a jumper), its program running."
    ),
    "hang": "Flash the receiver with a build that, on a button, stays in an empty endless loop.",
    "brownout": "{supply}, and on again after half a second.",
    "reset": "Press the reset button of {units} and let go.",
}
_OVER = {
    "power_off": "switching on again",
    "frozen": "letting go of the button",
    "radio_reset": "the end of the cut",
    "hang": "where the pulses stop",
    "brownout": "the supply's return",
    "reset": "pressing the button",
}
_IF_NOT = {
    "power_off": (
        "Later than the bound: the timer is fed by something else (failsafe.{stream}.fed_by), or "
        "a pass is longer than the scene's (receiver.pass_ms, delay_ms, work). Sooner: the timeout "
        "is not failsafe.{stream}.timeout_ms. Never: do not run the vehicle."
    ),
    "frozen": (
        "Goes on for ever: the firmware feeds the timer with any frame: "
        "failsafe.{stream}.watch_field."
    ),
    "radio_reset": (
        "Never back: the firmware does not look at the radio's settings again: receiver.recheck_ms."
    ),
    "hang": "Goes on for ever: the watchdog is not on, or is fed by a timer: receiver.watchdog_ms.",
    "brownout": (
        "Back later: the start-up takes longer: receiver.boot_s. A twitch at power-on: "
        "output.*.at_start."
    ),
    "reset": (
        "Back later: the start-up takes longer than the scene's boot_s. Old values come first: "
        "receiver.flush_on_boot. It jumps as it comes back: failsafe.{stream}.resume_frames, "
        "resume_needs."
    ),
}


def bench_drills(scenario: Scenario) -> tuple[Drill, ...]:
    """The drills that can be done on a bench."""
    return tuple(it for it in drills_of(scenario) if it.kind not in _NOT_ON_A_BENCH)


def fault_steps(
    scenario: Scenario,
    drills: Sequence[Drill],
    attempts: Sequence[Sequence[Attempt]],
    undisturbed: Sequence[Mapping[str, int]],
) -> Iterator[Step]:
    """One step a drill; `attempts` by drill and try, `undisturbed` entries by try."""
    plan = make_plan(with_slowest_clock(scenario), 0)
    for drill, tries in zip(drills, attempts, strict=True):
        predicted = list(_reboot(scenario, drill))
        predicted += [
            prediction
            for name in scenario.output
            if name in tries[0].stop_ns
            for prediction in _of_output(scenario, plan, drill, name, tries)
        ]
        predicted += _others(scenario, drill, tries, undisturbed)
        streams = drill.silences or drill.units
        stream = streams[0] if streams[0] in scenario.transmitter else "*"
        yield Step(
            chapter=CHAPTER,
            key=f"{drill.kind}.{'.'.join(drill.units)}",
            title=drill.name,
            do=_DO[drill.kind].format(units=_unit(drill), supply=_supply(scenario))
            + " Ten times, each at another moment.",
            measure=_how(drill),
            predicted=tuple(predicted),
            if_not=_IF_NOT[drill.kind].format(stream=stream if len(streams) == 1 else "*"),
        )


def _unit(drill: Drill) -> str:
    return "the receiver" if drill.units == (RECEIVER,) else " and ".join(drill.units)


def _supply(scenario: Scenario) -> str:
    if scenario.receiver.radio_survives:
        return "Switch the supply of the receiver's microcontroller off, its radio's left on"
    return "Switch the receiver's supply off, radio and all"


def _how(drill: Drill) -> str:
    trigger = (
        f"the supply of {_unit(drill)} falls"
        if drill.kind in ("power_off", "brownout", "radio_reset")
        else "the button goes down"
    )
    return (
        f"Logic analyser on that line and on the outputs, or a camera at 240 pictures a second "
        f"with a lamp on that line: from where {trigger} to where the output shows what it must; "
        f"then from {_OVER[drill.kind]} to the end of the first pulse that follows again."
    )


def _of_output(
    scenario: Scenario, plan: Plan, drill: Drill, name: str, tries: Sequence[Attempt]
) -> Iterator[Prediction]:
    output = scenario.output[name]
    live = [attempt for attempt in tries if name in attempt.live]
    stops = [milliseconds(attempt.stop_ns[name]) for attempt in live]
    there = [stop for stop in stops if stop is not None]
    bound = bound_of(scenario, plan, name)
    if output.stream in drill.silences and drill.must_stop:
        if output.on_failsafe == "hold" and output.stream in scenario.failsafe:
            yield to_see(name, "holds its last value, as the scene says", tries=len(tries))
        elif len(there) == len(stops) and there:
            yield band_of(f"{name}: until it shows {shows(output)}", there, "ms")
        elif stops:
            yield to_see(
                name,
                f"{ALIVE} in {len(stops) - len(there)} of {len(stops)} tries: "
                + why_alive(scenario, drill, name, bound),
                tries=len(stops),
            )
    if has_bound(scenario, drill, output.stream) and bound.total_ns is not None:
        reachable = reachable_ms(scenario, plan, name, bound)
        text = f"the bound; {reachable:.4g} ms can be reached"
        yield exact(f"{name}: however often it is tried", None, bound.total_ns / 1e6, "ms", text)
    # A hang that no watchdog ends is over at the next power-on only.
    if drill.kind != "hang" or scenario.receiver.watchdog_ms:
        yield from _back(drill, name, tries)


def _reboot(scenario: Scenario, drill: Drill) -> Iterator[Prediction]:
    """What the receiver's program takes to be back, before any frame (rule E3)."""
    receiver = scenario.receiver
    width = clock_width_ppb(scenario) / 1e9
    if drill.units != (RECEIVER,) or drill.kind not in ("reset", "brownout", "hang"):
        return
    if drill.kind == "hang":
        if not receiver.watchdog_ms:
            return
        yield exact(
            "until the watchdog bites: pulses stop",
            receiver.watchdog_ms * (1 - width),
            receiver.watchdog_ms * (1 + width),
            "ms",
            "sooner by up to the time since the firmware last fed it",
        )
    boot_ms = 1000 * receiver.boot_s
    if not receiver.radio_survives:
        profile = scenario.profile()
        boot_ms += profile.power_on_reset_ms
        boot_ms += (profile.crystal_start_us + profile.settle_us) / 1000
    yield exact(
        "reboot: no pulses, until a pin raised at the end of the set-up",
        boot_ms * (1 - width),
        boot_ms * (1 + width),
        "ms",
    )


def _back(drill: Drill, name: str, tries: Sequence[Attempt]) -> Iterator[Prediction]:
    found = [milliseconds(attempt.recovered_ns[name]) for attempt in tries]
    there = [ms for ms in found if ms is not None]
    if len(there) == len(found):
        yield band_of(f"{name}: from {_OVER[drill.kind]} until it follows again", there, "ms")
    elif not there:
        yield to_see(name, "does not come back until the next power-on", tries=len(found))
    else:
        yield to_see(name, f"comes back in {len(there)} of {len(found)} tries", tries=len(found))


def _others(
    scenario: Scenario,
    drill: Drill,
    tries: Sequence[Attempt],
    undisturbed: Sequence[Mapping[str, int]],
) -> Iterator[Prediction]:
    """What the outputs of streams do that the fault is not of: nothing."""
    if not set(drill.units) <= set(scenario.transmitter):
        return
    for name in scenario.transmitter:
        outputs = [key for key, output in scenario.output.items() if output.stream == name]
        if name in drill.units or not outputs:
            continue
        hit = sum(
            attempt.entries.get(name, 0) > calm.get(name, 0)
            for attempt, calm in zip(tries, undisturbed, strict=True)
        )
        text = (
            "go on as if nothing had happened"
            if not hit
            else f"fall into failsafe in {hit} of {len(tries)} tries: not their fault"
        )
        yield to_see(f"{', '.join(outputs)} (of {name})", text, tries=len(tries))


def shows(output: Output) -> str:
    """What an output must show on failsafe."""
    match output.on_failsafe:
        case Preset(preset_us=float(pulse_us)):
            return f"{pulse_us:g} us"
        case Preset(preset=float(value)):
            return f"{value:g}"
        case "off":
            return "no pulses" if output.kind == "servo" else "off"
        case _:
            return "its last value"
