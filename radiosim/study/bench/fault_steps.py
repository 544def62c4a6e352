"""What to do, how to measure, and where to look, as the kinds of fault say it."""

from collections.abc import Iterator, Mapping, Sequence

from msgspec.structs import replace

from radiosim.engine.plan_units import RECEIVER
from radiosim.engine.simulate import Engine
from radiosim.registers.fault_kind import (
    AIR,
    HANDS,
    RECHECK,
    WATCHDOG,
    Effect,
    NotOnBench,
    OnBench,
)
from radiosim.registers.fault_register import FAULT_KINDS, fault_kind
from radiosim.scenario import Scenario
from radiosim.scenario.structs.output_table import Output, Preset
from radiosim.study.bench.all_rests import all_rests
from radiosim.study.bench.rests import Rest, has_default, rests_on
from radiosim.study.bench.step import (
    DRILLED,
    HOLDS,
    NEED_NOT,
    STILL_DRIVEN,
    UNTOUCHED,
    Chapter,
    Prediction,
    Step,
    StepCase,
    assumed_where,
    exact,
    key_of,
    predicted_range,
    to_see,
)
from radiosim.study.drill.drill_kinds import ALL, Drill, Limit, drills_of
from radiosim.study.drill.judged import acts, figures_of
from radiosim.study.drill.observed import Fate, Point
from radiosim.study.drill.points import needs_power_cycle, rhythm_of
from radiosim.study.drill.work import OfStart, Work, limits_of
from radiosim.units import ms_from_ns
from radiosim.vehicle.reaction_bound import clock_width_ppb

FLOATS = "no pulses"
OUTSIDE = (
    "Later than 'at most': something else feeds the timer ({failsafe}.fed_by), or a pass is longer "
    "than the scenario's (receiver.loop_ms, delay_ms, work), or its clock counts in longer steps "
    "(receiver.clock_tick_ms). Sooner: the timeout is not "
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


def not_on_a_bench() -> tuple[str, ...]:
    """Kinds of fault that are not tried on the bench."""
    return tuple(row.name for row in FAULT_KINDS.values() if isinstance(row.bench, NotOnBench))


def rows_in_order(drills: Sequence[Drill]) -> dict[str, OnBench]:
    """Rows by kind of fault, those next to each other that take the same hand."""
    drilled = {drill.kind for drill in drills}
    rows = {
        kind.name: kind.bench
        for kind in FAULT_KINDS.values()
        if kind.name in drilled and isinstance(kind.bench, OnBench)
    }
    return dict(sorted(rows.items(), key=lambda row: HANDS.index(row[1].hand)))


def case_text(drill: Drill) -> str:
    """The unit as the sheet names it."""
    return "all transmitters" if drill.unit == ALL else drill.unit


def do_text(work: Work, row: OnBench) -> str:
    """What to do to a unit, and for how long, as it was drilled."""
    rhythm = work.rhythm
    lasts = f"{rhythm.hold_s:.1f} to {rhythm.hold_s + rhythm.spread_s:.1f} s"
    return row.do.format(supply=_supply(work.scenario), lasts=lasts)


_ENDING = ("recheck_ms", "watchdog_ms")


def if_not_text(scenario: Scenario, row: OnBench, drills: Sequence[Drill]) -> str:
    """What a measurement outside its range most likely means, beyond what holds for every kind."""
    units = [drill.unit for drill in drills if drill.unit not in (RECEIVER, ALL)]
    tables = [key_of("transmitter", units)] if units else []
    if any(drill.unit == RECEIVER for drill in drills):
        tables.append(RECEIVER)
    boot = "reset_boot_s" if any(_boots_apart(scenario, drill) for drill in drills) else "boot_s"
    keys = {
        word: ", ".join(f"{table}.{key}" for table in tables)
        for word, key in {"boot_s": boot, **{key: key for key in _ENDING}}.items()
    }
    return row.if_not.format(
        failsafe=failsafe_key(scenario), output=key_of("output", tuple(scenario.output)), **keys
    )


def _boots_apart(scenario: Scenario, drill: Drill) -> bool:
    """Whether a unit comes back from a fault in a time of its own, not that from power-on."""
    if fault_kind(drill.kind).boots_cold:
        return False
    if drill.unit == RECEIVER:
        return scenario.receiver.reset_boot_s is not None
    units = [scenario.transmitter[name] for name in drill.units(scenario) if name != AIR]
    return any(unit.reset_boot_s is not None for unit in units)


def failsafe_key(scenario: Scenario) -> str:
    """The table of the only stream's timer, or of each."""
    return key_of("failsafe", tuple(scenario.transmitter))


def _supply(scenario: Scenario) -> str:
    if scenario.receiver.radio_survives:
        return "Hold the receiver's reset pin low (its radio stays on; part no supply on one board)"
    return "Switch the receiver's supply off, radio and all"


_MS = 0.1
_FROM_NEW = (
    "counts from the last frame that the receiver had not seen: where frames are lost, that may "
    "be one of the repeats, and the reaction as much later"
)
NOT_DRIVEN = "not driven in this scenario: nothing to see"


HANDS_PERIODS = 4
"""Over so many periods of the slowest stream a hand's faults end: packet numbers come round after
four (rule D3)."""
LEAST_SPREAD_S = 0.5
"""No hand does better without a clock: our own choice."""


def bench_work(scenario: Scenario, starts: int, engine: Engine) -> Work:
    """Every drill that can be done on a bench, one fault in each start."""
    drills = drills_of(scenario, not_on_a_bench())
    rhythm = rhythm_of(scenario, 1)
    # The longest span is the longest period, or pass.
    spread_s = max(LEAST_SPREAD_S, HANDS_PERIODS * rhythm.longest_span_s)
    return Work(
        scenario=scenario,
        quiet=scenario,
        timeouts_ms=(),
        drills=drills,
        limits=limits_of(scenario, drills),
        rhythm=replace(rhythm, spread_s=spread_s),
        starts=starts,
        engine=engine,
        is_even=False,
    )


def fault_chapter(work: Work, found: Sequence[OfStart]) -> Chapter:
    """One step a kind of fault, with a case for each unit, from what each start has shown."""
    scenario, drills = work.scenario, work.drills
    cases = {drill: _case(work, number, drill, found) for number, drill in enumerate(drills)}
    rests, bound = all_rests(scenario, has_faults=True), rests_on(scenario, *_BOUND)
    steps = []
    for kind, row in rows_in_order(drills).items():
        those = [drill for drill in drills if drill.kind == kind]
        reboot = rests_on(scenario, *_keys_of(scenario, kind, those))
        steps.append(
            Step(
                key=kind,
                title=row.title,
                do=do_text(work, row),
                measure=f"Back: from {fault_kind(kind).over}.",
                cases=_assumed(rests, bound, reboot, [cases[drill] for drill in those]),
                if_not=if_not_text(scenario, row, those),
                rests_on=reboot,
            )
        )
    return Chapter(
        title="Failsafe",
        how=how_text(scenario),
        steps=tuple(steps),
        if_not=OUTSIDE.format(failsafe=failsafe_key(scenario)),
        rests_on=rests,
    )


def _assumed(
    rests: Sequence[Rest], bound: Sequence[Rest], reboot: Sequence[Rest], cases: Sequence[StepCase]
) -> tuple[StepCase, ...]:
    """Bounds and reboots are closed forms of few settings; all else is drilled and rests on all."""
    closed = {"bound": has_default(bound), "reboot": has_default(reboot)}
    return assumed_where(
        lambda _, predicted: closed.get(predicted.aspect, has_default(rests)), cases
    )


_BOUND = (
    *("failsafe.NAME.timeout_ms", "receiver.clock", "receiver.clock_ppm"),
    "receiver.clock_tick_ms",
    *("receiver.read", "receiver.loop_ms", "receiver.delay_ms"),
    *(
        "receiver.work",
        "receiver.spi_hz",
        "receiver.spi_overhead_us",
        "receiver.unpack_us",
        "output.NAME.refresh_hz",
    ),
    *("radio.interrupt_us", "radio.fifo_frames"),
)
"""What the bound of every reaction is made of (rule F6)."""


def _keys_of(scenario: Scenario, kind: str, drills: Sequence[Drill]) -> tuple[str, ...]:
    """What else a kind of fault rests on: how its units come back."""
    kind_of_fault = fault_kind(kind)
    names = []
    if kind_of_fault.restarts or WATCHDOG in kind_of_fault.ended_by:
        apart = [_boots_apart(scenario, drill) for drill in drills]
        names += ["boot_s"] if not all(apart) else []
        names += ["reset_boot_s"] if any(apart) else []
    names += ["watchdog_ms"] if WATCHDOG in kind_of_fault.ended_by else []
    names += ["recheck_ms"] if RECHECK in kind_of_fault.ended_by else []
    tables = ["receiver"] if any(drill.unit == RECEIVER for drill in drills) else []
    tables += ["transmitter.NAME"] if any(drill.unit != RECEIVER for drill in drills) else []
    return tuple(f"{table}.{name}" for table in tables for name in names)


def _case(work: Work, number: int, drill: Drill, found: Sequence[OfStart]) -> StepCase:
    scenario, limits = work.scenario, work.limits[number]
    predicted = list(_reboot(scenario, drill))
    for name, limit in limits.items():
        points = [point for entry in found for point in entry.points[number][name]]
        predicted += _of_output(scenario, drill, name, limit, points)
    others = {
        name: sum(entry.others[number][name] > 0 for entry in found)
        if any(entry.others_alive[number][name] for entry in found)
        else None
        for name in found[0].others[number]
    }
    predicted += _others(scenario, others, len(found))
    return StepCase(
        key=f"{drill.kind}.{drill.unit}", title=case_text(drill), predicted=tuple(predicted)
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
            "until the watchdog resets it, pulses stop",
            receiver.watchdog_ms * (1 - width),
            receiver.watchdog_ms * (1 + width),
            "ms",
            _MS,
            aspect="reboot",
            text="sooner by up to the time since the firmware last fed it",
        )
    if not is_hang and drill.effect is not Effect.NO_PULSES:
        return
    boot_ms, rest_ms = 1000 * receiver.warm_boot_s, 0.0
    if not receiver.radio_survives:
        profile = scenario.profile()
        rest_ms = profile.power_on_reset_ms + (profile.crystal_start_us + profile.settle_us) / 1000
    yield exact(
        f"reboot, {FLOATS}, until a pin is raised after set-up",
        boot_ms * (1 - width) + rest_ms,
        boot_ms * (1 + width) + rest_ms,
        "ms",
        _MS,
        aspect="reboot",
    )


def _of_output(
    scenario: Scenario, drill: Drill, name: str, limit: Limit, points: Sequence[Point]
) -> Iterator[Prediction]:
    figures = figures_of(scenario, drill, name, limit, points)
    tried = [point for point in points if point.fate is not Fate.WAS_ON]
    if not tried:
        yield to_see(name, "reaction", NOT_DRIVEN, len(points))
        return
    stopped = [ms_from_ns(p.reaction_ns) for p in tried if p.fate is Fate.STOPPED]
    if figures.still_driven and acts(scenario, name):
        yield to_see(name, "reaction", f"{STILL_DRIVEN}: {figures.why}", len(tried))
    elif len(stopped) == len(tried):
        yield _reaction(scenario.output[name], drill, name, stopped)
    elif stopped:
        text = f"stops in {len(stopped)} of {len(tried)} tries, and within {max(stopped):.4g} ms"
        yield to_see(name, "reaction", text, len(tried))
    elif all(point.fate is Fate.SHORT for point in tried):
        yield to_see(name, "reaction", f"{NEED_NOT}: {_short(figures.why)}", len(tried))
    else:
        yield to_see(name, "reaction", f"{HOLDS}: on_failsafe is hold", len(tried))
    if stopped and figures.bound_ms is not None and figures.reachable_ms is not None:
        yield exact(
            "however often it is tried",
            None,
            figures.bound_ms,
            "ms",
            _MS,
            of=name,
            aspect="bound",
            reached=max(figures.reachable_ms, figures.silence_ms.max or 0.0),
            text=_FROM_NEW if drill.effect is Effect.REPEATS else "",
        )
    yield from _back(scenario, drill, name, tried)


def _short(why: str) -> str:
    """Why nothing need stop, in the words of a table."""
    return why.replace("it is back before failsafe is due", "back before it is due")


def _reaction(output: Output, drill: Drill, name: str, stopped: Sequence[float]) -> Prediction:
    seen = shows(output, drill)
    return predicted_range(
        f"until it shows {seen}",
        stopped,
        "ms",
        _MS,
        of=name,
        aspect="reaction",
        source=DRILLED,
        text=seen,
    )


def _back(
    scenario: Scenario, drill: Drill, name: str, tried: Sequence[Point]
) -> Iterator[Prediction]:
    unit = scenario.receiver if drill.unit == RECEIVER else scenario.transmitter.get(drill.unit)
    # A hang that no watchdog ends is over at the next power-on only.
    kind = fault_kind(drill.kind)
    if WATCHDOG in kind.ended_by and unit is not None and not unit.watchdog_ms:
        return
    there = [ms_from_ns(point.recovered_ns) for point in tried if point.recovered_ns >= 0]
    if len(there) == len(tried):
        yield predicted_range(
            f"from {kind.over} until it follows again",
            there,
            "ms",
            _MS,
            of=name,
            aspect="back",
            source=DRILLED,
        )
        return
    if there:
        text = f"back in {len(there)} of {len(tried)} tries"
    elif needs_power_cycle(scenario, drill):
        text = "not back until the next power-on"
    else:
        text = "not back by the end of what was simulated"
    yield to_see(name, "back", text, len(tried))


def _others(
    scenario: Scenario, stops: Mapping[str, int | None], tries: int
) -> Iterator[Prediction]:
    """What the outputs of streams do that the fault is not of: nothing. None: never driven."""
    for name, hit in stops.items():
        if hit is None:
            text = NOT_DRIVEN
        elif hit:
            text = f"STOPS in {hit} of {tries} tries, though the fault is not its own"
        else:
            text = UNTOUCHED
        yield to_see(name, "others", text, tries)


def shows(output: Output, drill: Drill) -> str:
    """What an output must show."""
    off = "no pulses" if output.kind == "servo" else "off"
    if output.motor is not None and output.motor.signal_loss_ms:
        off = "motor cut"
    if drill.effect in (Effect.NO_PULSES, Effect.STANDSTILL):
        return off
    match output.on_failsafe:
        case Preset(preset_us=float(pulse_us)):
            return f"{pulse_us:g} us"
        case Preset(preset=float(value)):
            return f"{value:g}"
        case _:
            return off
