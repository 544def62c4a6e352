"""What to do, how to measure, and where to look, as the kinds of fault say it."""

from collections.abc import Sequence

from radiosim.engine.plan import RECEIVER
from radiosim.registers.fault_kind import HANDS, NotOnBench, OnBench
from radiosim.registers.fault_register import FAULT_KINDS
from radiosim.scenario import Scenario
from radiosim.study.bench.step import UNTOUCHED, key_of
from radiosim.study.drill.drill_kinds import ALL, Drill

FLOATS = "no pulses"
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


def do_text(scenario: Scenario, row: OnBench) -> str:
    """What to do to a unit."""
    return row.do.format(supply=_supply(scenario))


def if_not_text(scenario: Scenario, row: OnBench, drills: Sequence[Drill]) -> str:
    """What a measurement outside its range most likely means, beyond what holds for every kind."""
    units = [drill.unit for drill in drills if drill.unit not in (RECEIVER, ALL)]
    tables = [key_of("transmitter", units)] if units else []
    if any(drill.unit == RECEIVER for drill in drills):
        tables.append(RECEIVER)
    keys = {
        key: ", ".join(f"{table}.{key}" for table in tables)
        for key in ("boot_s", "recheck_ms", "watchdog_ms")
    }
    return row.if_not.format(
        failsafe=failsafe_key(scenario), output=key_of("output", tuple(scenario.output)), **keys
    )


def failsafe_key(scenario: Scenario) -> str:
    """The table of the only stream's timer, or of each."""
    return key_of("failsafe", tuple(scenario.transmitter))


def _supply(scenario: Scenario) -> str:
    if scenario.receiver.radio_survives:
        return "Switch the supply of the receiver's microcontroller off, its radio's left on"
    return "Switch the receiver's supply off, radio and all"
