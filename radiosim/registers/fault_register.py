"""Every kind of fault, one row each: checks, timeline, drills, bench and texts follow from it."""

from collections.abc import Iterable

from radiosim.registers.fault_kind import (
    AIR,
    PROGRAM,
    QUIET_AIR,
    RADIO,
    RANGE,
    RECEIVER,
    RECHECK,
    TRANSMITTER,
    VALUES,
    WATCHDOG,
    Drilled,
    Effect,
    FaultKind,
    NotOnBench,
    OnBench,
    UnitKind,
)
from radiosim.safety import NO_JAMMING

BROWNOUT = "brownout"
"""Name of the kind that what outputs draw can bring about, too (rule E4)."""


def by_name(rows: Iterable[FaultKind]) -> dict[str, FaultKind]:
    """Rows by the names of their kinds; ValueError: two of one name."""
    found: dict[str, FaultKind] = {}
    for row in rows:
        if row.name in found:
            raise ValueError(f"fault kind {row.name!r}: has two rows")
        found[row.name] = row
    return found


FAULT_KINDS = by_name(
    (
        FaultKind(
            name="power_off",
            meaning="the unit loses its supply, radio and all, for a while or for good",
            standard="",
            units=(TRANSMITTER, RECEIVER),
            is_lasting=True,
            begins=lambda unit, at_ns: unit.power_off(at_ns),
            ends=lambda unit, at_ns: unit.restore_power(at_ns),
            impairs=(PROGRAM, RADIO),
            restarts=True,
            ended_by=("power_on",),
            over="switching on",
            drilled=(
                Drilled(
                    at=TRANSMITTER,
                    effect=Effect.SILENCE,
                    words="off and on again",
                    also_all=True,
                ),
            ),
            caption="{unit} is switched off",
            bench=OnBench(
                title="Off and on again",
                hand="supply",
                do="Switch its supply off, then on again.",
                if_not="",
            ),
            law="E3",
        ),
        FaultKind(
            name="power_on",
            meaning="a unit without supply gets it, and boots",
            standard="",
            units=(TRANSMITTER, RECEIVER),
            is_lasting=False,
            begins=lambda unit, at_ns: unit.power_on(at_ns),
            ends=None,
            impairs=(),
            restarts=True,
            ended_by=(),
            over="switching on",
            drilled=(),
            caption="{unit} is switched on",
            bench=NotOnBench(why="it ends power_off, whose step tries it"),
            law="E3",
        ),
        FaultKind(
            name="reset",
            meaning="the program of the unit starts again, its supply stays",
            standard="",
            units=(TRANSMITTER, RECEIVER),
            is_lasting=False,
            begins=lambda unit, at_ns: unit.reset(at_ns),
            ends=None,
            impairs=(PROGRAM,),
            restarts=True,
            ended_by=(),
            over="pressing it",
            drilled=(
                Drilled(
                    at=TRANSMITTER,
                    effect=Effect.SILENCE,
                    words="resets and comes back",
                    also_all=False,
                ),
                Drilled(at=RECEIVER, effect=Effect.NO_PULSES, words="resets", also_all=False),
            ),
            caption="{unit} is reset",
            bench=OnBench(
                title="Resets",
                hand="button",
                do="Press its reset button and let go.",
                if_not=(
                    "Back later: the start-up takes longer: {boot_s}. Old values come first: "
                    "receiver.flush_on_boot. It jumps as it comes back: {failsafe}.resume_frames, "
                    "resume_needs."
                ),
            ),
            law="E3",
        ),
        FaultKind(
            name=BROWNOUT,
            meaning="the supply drops too low for the program, which starts again after",
            standard="",
            units=(TRANSMITTER, RECEIVER),
            is_lasting=True,
            begins=lambda unit, at_ns: unit.hold_in_reset(at_ns),
            ends=lambda unit, at_ns: unit.release(at_ns),
            impairs=(PROGRAM,),
            restarts=True,
            ended_by=(),
            over="the end of the brownout",
            drilled=(
                Drilled(at=RECEIVER, effect=Effect.NO_PULSES, words="browns out", also_all=False),
            ),
            caption="{unit} browns out",
            bench=OnBench(
                title="Browns out",
                hand="supply",
                do="{supply}, and undo that after {lasts}.",
                if_not=(
                    "Back later: the start-up takes longer: {boot_s}. A twitch at power-on: "
                    "{output}.at_start."
                ),
            ),
            law="E3",
        ),
        FaultKind(
            name="hang",
            meaning="the program of the unit stops in a loop; its radio, timers and pulses go on",
            standard="",
            units=(TRANSMITTER, RECEIVER),
            is_lasting=True,
            begins=lambda unit, at_ns: unit.hang(at_ns),
            ends=lambda unit, at_ns: unit.go_on(at_ns),
            impairs=(PROGRAM,),
            restarts=False,
            ended_by=(WATCHDOG,),
            over="the watchdog's reset",
            drilled=(
                Drilled(
                    at=TRANSMITTER, effect=Effect.SILENCE, words="program hangs", also_all=False
                ),
                Drilled(
                    at=RECEIVER, effect=Effect.STANDSTILL, words="program hangs", also_all=False
                ),
            ),
            caption="the program of {unit} hangs",
            bench=OnBench(
                title="Program hangs",
                hand="firmware",
                do="Flash it with a build that, on a button, stays in an empty endless loop.",
                if_not="Not back: the watchdog is not on, or a timer feeds it: {watchdog_ms}.",
            ),
            law="E3",
        ),
        FaultKind(
            name="radio_reset",
            meaning="the radio loses its settings while its program goes on",
            standard="",
            units=(TRANSMITTER, RECEIVER),
            is_lasting=False,
            begins=lambda unit, at_ns: unit.lose_settings(at_ns),
            ends=None,
            impairs=(RADIO,),
            restarts=False,
            ended_by=(RECHECK,),
            over="the end of the cut",
            drilled=(
                Drilled(
                    at=TRANSMITTER,
                    effect=Effect.SILENCE,
                    words="radio loses settings",
                    also_all=False,
                ),
                Drilled(
                    at=RECEIVER,
                    effect=Effect.SILENCE,
                    words="radio loses settings",
                    also_all=False,
                ),
            ),
            caption="the radio of {unit} loses its settings",
            bench=OnBench(
                title="Radio loses its settings",
                hand="supply",
                do=(
                    "Cut the supply of its radio alone for 20 ms, its program running; on one "
                    "board with the processor let a build write its registers back instead."
                ),
                if_not=(
                    "Never back: the firmware does not look at the radio's settings again: "
                    "{recheck_ms}."
                ),
            ),
            law="E3",
        ),
        FaultKind(
            name="stale",
            meaning="the transmitter sends its old values again and again",
            standard="unintended repetition, IEC 61784-3",
            units=(TRANSMITTER,),
            is_lasting=True,
            begins=lambda unit, at_ns: unit.freeze_values(at_ns),
            ends=lambda unit, at_ns: unit.thaw_values(at_ns),
            impairs=(VALUES,),
            restarts=False,
            ended_by=(),
            over="letting go of the button",
            drilled=(
                Drilled(
                    at=TRANSMITTER,
                    effect=Effect.REPEATS,
                    words="repeats old values",
                    also_all=False,
                ),
            ),
            caption="{unit} repeats old values",
            bench=OnBench(
                title="Repeats old values",
                hand="firmware",
                do=(
                    "Flash it with a build that, while a button is down, sends its last frame "
                    "unchanged."
                ),
                if_not=(
                    "Goes on for ever: the firmware feeds the timer with any frame: "
                    "{failsafe}.watch_field."
                ),
            ),
            law="E3",
        ),
        FaultKind(
            name="jam",
            meaning="the channel is full of noise, and nothing gets through",
            standard="",
            units=(AIR,),
            is_lasting=True,
            begins=lambda air, at_ns: air.jam(at_ns),
            ends=lambda air, at_ns: air.clear(at_ns),
            impairs=(QUIET_AIR,),
            restarts=False,
            ended_by=(),
            over="the end of the jam",
            drilled=(Drilled(at=AIR, effect=Effect.SILENCE, words="jammed", also_all=False),),
            caption="the air is jammed",
            bench=NotOnBench(why=f"it is against the law: {NO_JAMMING}"),
            law="E3",
        ),
        FaultKind(
            name="out_of_range",
            meaning="the path is too long for any frame; of the air: every path is",
            standard="",
            units=(TRANSMITTER, AIR),
            is_lasting=True,
            begins=lambda unit, at_ns: unit.leave(at_ns),
            ends=lambda unit, at_ns: unit.come_back(at_ns),
            impairs=(RANGE,),
            restarts=False,
            ended_by=(),
            over="the way back",
            drilled=(
                Drilled(at=TRANSMITTER, effect=Effect.SILENCE, words="out of range", also_all=True),
                Drilled(
                    at=TRANSMITTER,
                    effect=Effect.FEW,
                    words="in range for a few frames at a time",
                    also_all=False,
                ),
            ),
            caption="{unit} goes out of range",
            bench=NotOnBench(why="a bench is not long enough"),
            law="E3",
        ),
    )
)
"""Name of a kind → its row, in the order of tables and messages."""


def fault_kind(name: str) -> FaultKind:
    """The row of a kind."""
    return FAULT_KINDS[name]


def ended_by(name: str) -> tuple[str, ...]:
    """Names of the kinds that a fault of a kind ends, as power_on ends power_off."""
    return tuple(row.name for row in FAULT_KINDS.values() if name in row.ended_by)


def kinds_at(unit: UnitKind) -> tuple[str, ...]:
    """Names of the kinds that a unit of a sort can have."""
    return tuple(row.name for row in FAULT_KINDS.values() if unit in row.units)
