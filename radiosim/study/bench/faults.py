"""Steps that break the link on purpose: each unit off, reset, hung, frozen (rules E3 and F6)."""

from collections.abc import Iterator, Mapping, Sequence

from radiosim.engine.choice import Engine
from radiosim.engine.plan import RECEIVER
from radiosim.scenario import Scenario
from radiosim.scenario.structs.output import Output, Preset
from radiosim.study.bench.band import band_of
from radiosim.study.bench.fault_words import (
    FLOATS,
    asked,
    do_text,
    how_text,
    if_not_text,
    over_text,
)
from radiosim.study.bench.step import ALIVE, Prediction, Step, exact, to_see
from radiosim.study.drill.judged import acts, figures_of
from radiosim.study.drill.kinds import Drill, Effect, drills_of
from radiosim.study.drill.limits import Limit, limit_of
from radiosim.study.drill.observed import Fate, Point
from radiosim.study.drill.parts import OfStart, Work
from radiosim.study.drill.points import needs_power_cycle, rhythm_of
from radiosim.units import ms_from_ns
from radiosim.vehicle.stopping import clock_width_ppb

CHAPTER = "Failsafe"
NOT_ALIVE = "is not alive in this scene: nothing to see"
_NOT_ON_A_BENCH = ("out_of_range", "jam")
"""Too far, and against the law."""


def bench_work(scenario: Scenario, starts: int, engine: Engine) -> Work:
    """Every drill that can be done on a bench, one fault in each start."""
    drills = drills_of(scenario, _NOT_ON_A_BENCH)
    return Work(
        scenario=scenario,
        quiet=scenario,
        timeouts_ms=(),
        drills=drills,
        limits=tuple(
            {
                name: limit_of(scenario, drill, name)
                for name, output in scenario.output.items()
                if output.stream in drill.streams(scenario)
            }
            for drill in drills
        ),
        rhythm=rhythm_of(scenario, 1),
        starts=starts,
        engine=engine,
    )


def fault_steps(work: Work, found: Sequence[OfStart]) -> Iterator[Step]:
    """One step a drill, from what each start has shown."""
    for number, (drill, limits) in enumerate(zip(work.drills, work.limits, strict=True)):
        points = {name: [p for it in found for p in it.points[number][name]] for name in limits}
        others = {
            name: sum(it.others[number][name] > 0 for it in found)
            if any(it.others_alive[number][name] for it in found)
            else None
            for name in found[0].others[number]
        }
        yield _step(work.scenario, drill, limits, points, others, len(found))


def _step(
    scenario: Scenario,
    drill: Drill,
    limits: Mapping[str, Limit],
    points: Mapping[str, Sequence[Point]],
    others: Mapping[str, int | None],
    tries: int,
) -> Step:
    predicted = list(_reboot(scenario, drill))
    for name, limit in limits.items():
        predicted += _of_output(scenario, drill, name, limit, points[name])
    predicted += _others(scenario, others, tries)
    return Step(
        chapter=CHAPTER,
        key=f"{drill.kind}.{drill.unit}",
        title=f"{asked(drill)}: {drill.words}",
        do=do_text(scenario, drill),
        measure=how_text(drill),
        predicted=tuple(predicted),
        if_not=if_not_text(scenario, drill),
    )


def _reboot(scenario: Scenario, drill: Drill) -> Iterator[Prediction]:
    """What the receiver's program takes to be back, before any frame (rule E3)."""
    receiver = scenario.receiver
    width = clock_width_ppb(scenario) / 1e9
    is_hang = drill.effect is Effect.STANDSTILL
    if drill.unit != RECEIVER or (is_hang and not receiver.watchdog_ms):
        return
    if is_hang:
        yield exact(
            "until the watchdog bites: pulses stop",
            receiver.watchdog_ms * (1 - width),
            receiver.watchdog_ms * (1 + width),
            "ms",
            "sooner by up to the time since the firmware last fed it",
        )
    if not is_hang and drill.effect is not Effect.NO_PULSES:
        return
    boot_ms, rest_ms = 1000 * receiver.boot_s, 0.0
    if not receiver.radio_survives:
        profile = scenario.profile()
        rest_ms = profile.power_on_reset_ms + (profile.crystal_start_us + profile.settle_us) / 1000
    yield exact(
        f"reboot: {FLOATS}, until a pin raised at the end of the set-up",
        boot_ms * (1 - width) + rest_ms,
        boot_ms * (1 + width) + rest_ms,
        "ms",
    )


def _of_output(
    scenario: Scenario, drill: Drill, name: str, limit: Limit, points: Sequence[Point]
) -> Iterator[Prediction]:
    output = scenario.output[name]
    figures = figures_of(scenario, drill, name, limit, points)
    tried = [point for point in points if point.fate is not Fate.WAS_ON]
    if not tried:
        yield to_see(name, NOT_ALIVE, tries=len(points))
        return
    stopped = [ms_from_ns(p.stop_ns) for p in tried if p.fate is Fate.STOPPED]
    if figures.alive and acts(scenario, name):
        yield to_see(name, f"{ALIVE}: {figures.why}", tries=len(tried))
    elif len(stopped) == len(tried):
        yield band_of(f"{name}: until it shows {shows(output, drill)}", stopped, "ms")
    elif stopped:
        text = f"stops in {len(stopped)} of {len(tried)} tries, and within {max(stopped):.4g} ms"
        yield to_see(name, text, tries=len(tried))
    elif all(point.fate is Fate.SHORT for point in tried):
        yield to_see(name, f"need not stop: {figures.why}", tries=len(tried))
    else:
        yield to_see(name, "holds its last value, as the scene says", tries=len(tried))
    if stopped and figures.bound_ms is not None and figures.reachable_ms is not None:
        text = f"the bound; {figures.reachable_ms:.4g} ms can be reached"
        yield exact(f"{name}: however often it is tried", None, figures.bound_ms, "ms", text)
    yield from _back(scenario, drill, name, tried)


def _back(
    scenario: Scenario, drill: Drill, name: str, tried: Sequence[Point]
) -> Iterator[Prediction]:
    unit = scenario.receiver if drill.unit == RECEIVER else scenario.transmitter.get(drill.unit)
    # A hang that no watchdog ends is over at the next power-on only.
    if drill.kind == "hang" and unit is not None and not unit.watchdog_ms:
        return
    there = [ms_from_ns(point.recovered_ns) for point in tried if point.recovered_ns >= 0]
    if len(there) == len(tried):
        yield band_of(f"{name}: from {over_text(drill)} until it follows again", there, "ms")
    elif not there and needs_power_cycle(scenario, drill):
        yield to_see(name, "does not come back until the next power-on", tries=len(tried))
    elif not there:
        yield to_see(name, "is not back by the end of what was simulated", tries=len(tried))
    else:
        yield to_see(name, f"comes back in {len(there)} of {len(tried)} tries", tries=len(tried))


def _others(
    scenario: Scenario, stops: Mapping[str, int | None], tries: int
) -> Iterator[Prediction]:
    """What the outputs of streams do that the fault is not of: nothing. None: never alive."""
    alive = {name: count for name, count in stops.items() if count is not None}
    for name in stops:
        if name not in alive:
            yield to_see(name, NOT_ALIVE, tries=tries)
    for stream in scenario.transmitter:
        names = [name for name in alive if scenario.output[name].stream == stream]
        if not names:
            continue
        hit = max(alive[name] for name in names)
        text = (
            "go on as if nothing had happened"
            if not hit
            else f"STOP in {hit} of {tries} tries, though the fault is not theirs"
        )
        yield to_see(f"{', '.join(names)} (of {stream})", text, tries=tries)


def shows(output: Output, drill: Drill) -> str:
    """What an output must show."""
    off = "no pulses" if output.kind == "servo" else "off"
    if output.motor is not None and output.motor.signal_loss_ms:
        off += " and its controller has noticed"
    if drill.effect in (Effect.NO_PULSES, Effect.STANDSTILL):
        return off
    match output.on_failsafe:
        case Preset(preset_us=float(pulse_us)):
            return f"{pulse_us:g} us"
        case Preset(preset=float(value)):
            return f"{value:g}"
        case _:
            return off
