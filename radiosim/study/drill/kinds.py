"""Every fault that a failsafe is drilled with: one row each."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import Enum

from radiosim.engine.plan import AIR, RECEIVER
from radiosim.scenario import Scenario
from radiosim.scenario.structs.fault import INSTANT_KINDS, FaultKind

ALL = "all"
"""Unit of a fault that strikes every transmitter at once."""


class Effect(Enum):
    """What a fault does to the streams that it strikes, and so which bound holds."""

    SILENCE = "nothing arrives any more"
    REPEATS = "old values arrive again and again"
    NO_PULSES = "the receiver's pins float"
    STANDSTILL = "the receiver's program stands still while its pulses go on"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One row of the table."""

    kind: FaultKind
    effect: Effect
    strikes: Callable[[Scenario], tuple[str, ...]]
    """Units that can have it, each a drill of its own."""
    words: str
    """What happens, as it is said of a unit."""


def _each(scenario: Scenario) -> tuple[str, ...]:
    return tuple(scenario.transmitter)


def _each_and_all(scenario: Scenario) -> tuple[str, ...]:
    names = tuple(scenario.transmitter)
    return (*names, ALL) if len(names) > 1 else names


def _receiver(_: Scenario) -> tuple[str, ...]:
    return (RECEIVER,)


def _air(_: Scenario) -> tuple[str, ...]:
    return (AIR,)


KINDS = (
    Kind(kind="power_off", effect=Effect.SILENCE, strikes=_each_and_all, words="off and on again"),
    Kind(kind="reset", effect=Effect.SILENCE, strikes=_each, words="resets and comes back"),
    Kind(kind="hang", effect=Effect.SILENCE, strikes=_each, words="program hangs"),
    Kind(kind="radio_reset", effect=Effect.SILENCE, strikes=_each, words="radio loses settings"),
    Kind(kind="stale", effect=Effect.REPEATS, strikes=_each, words="repeats old values"),
    Kind(kind="out_of_range", effect=Effect.SILENCE, strikes=_each_and_all, words="out of range"),
    Kind(kind="jam", effect=Effect.SILENCE, strikes=_air, words="jammed"),
    Kind(kind="reset", effect=Effect.NO_PULSES, strikes=_receiver, words="resets"),
    Kind(kind="brownout", effect=Effect.NO_PULSES, strikes=_receiver, words="browns out"),
    Kind(
        kind="radio_reset", effect=Effect.SILENCE, strikes=_receiver, words="radio loses settings"
    ),
    Kind(kind="hang", effect=Effect.STANDSTILL, strikes=_receiver, words="program hangs"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """One fault of one unit, or of all transmitters at once."""

    kind: FaultKind
    effect: Effect
    unit: str
    words: str

    @property
    def name(self) -> str:
        """As in the results: `power_off drive`."""
        return f"{self.kind} {self.unit}"

    @property
    def is_instant(self) -> bool:
        """Over as soon as it happens, but for boot or recheck."""
        return self.kind in INSTANT_KINDS

    def units(self, scenario: Scenario) -> tuple[str, ...]:
        """The units that fail."""
        return tuple(scenario.transmitter) if self.unit == ALL else (self.unit,)

    def streams(self, scenario: Scenario) -> tuple[str, ...]:
        """The streams that it strikes."""
        if self.unit in scenario.transmitter:
            return (self.unit,)
        return tuple(scenario.transmitter)


def drills_of(scenario: Scenario, skip: tuple[str, ...] = ()) -> tuple[Drill, ...]:
    """Every drill that a scenario's parts allow, but for some kinds of fault."""
    return tuple(_drills(scenario, skip))


def _drills(scenario: Scenario, skip: tuple[str, ...]) -> Iterator[Drill]:
    for row in KINDS:
        if row.kind in skip:
            continue
        for unit in row.strikes(scenario):
            yield Drill(kind=row.kind, effect=row.effect, unit=unit, words=row.words)
