"""The shape of a row of the register of fault kinds; a row that lacks something does not import."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import Literal, Protocol

UnitKind = Literal["transmitter", "receiver", "air"]
TRANSMITTER: UnitKind = "transmitter"
RECEIVER: UnitKind = "receiver"
AIR: UnitKind = "air"
_UNIT_KINDS = (TRANSMITTER, AIR, RECEIVER)

Part = Literal["program", "radio", "values", "range", "quiet air"]
PROGRAM: Part = "program"
RADIO: Part = "radio"
VALUES: Part = "values"
RANGE: Part = "range"
QUIET_AIR: Part = "quiet air"
PARTS = (PROGRAM, RADIO, VALUES, RANGE, QUIET_AIR)
"""What must be well for a unit to do its job; VALUES: those of its frames change."""

WATCHDOG, RECHECK = "watchdog", "recheck"
"""What ends a fault besides its time: the unit's watchdog, its look at its radio's settings."""


class Effect(Enum):
    """What a drilled fault does to the streams that it strikes, and so which bound holds."""

    SILENCE = "nothing arrives any more"
    REPEATS = "old values arrive again and again"
    NO_PULSES = "the receiver's pins float"
    STANDSTILL = "the receiver's program stands still while its pulses go on"


class FaultyUnit(Protocol):
    """What can be done to a unit, or to the air, at an instant in ns (see engine/timeline.py)."""

    def power_on(self, at_ns: int) -> None:
        """It gets its power, if it has none, and boots."""

    def power_off(self, at_ns: int) -> None:
        """It loses its power, radio and all."""

    def restore_power(self, at_ns: int) -> None:
        """It gets back the power that a fault took."""

    def reset(self, at_ns: int) -> None:
        """Its program starts again."""

    def hold_in_reset(self, at_ns: int) -> None:
        """Its program stops, for want of voltage."""

    def release(self, at_ns: int) -> None:
        """A program held in reset boots."""

    def hang(self, at_ns: int) -> None:
        """Its program stands still where it is."""

    def go_on(self, at_ns: int) -> None:
        """A program that hangs goes on."""

    def lose_settings(self, at_ns: int) -> None:
        """Its radio stops, until the program sets it up again."""

    def freeze_values(self, at_ns: int) -> None:
        """It sends its last values again and again."""

    def thaw_values(self, at_ns: int) -> None:
        """Its values are new ones again."""

    def leave(self, at_ns: int) -> None:
        """It goes out of range."""

    def come_back(self, at_ns: int) -> None:
        """It comes into range again."""

    def jam(self, at_ns: int) -> None:
        """Of the air: nothing gets through."""

    def clear(self, at_ns: int) -> None:
        """Of the air: it is quiet again."""


Happening = Callable[[FaultyUnit, int], None]
"""What a fault does to a unit at an instant in ns."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drilled:
    """Where `radiosim failsafe` drills a kind, and what must be expected."""

    at: UnitKind
    effect: Effect
    words: str
    """What happens, as it is said of a unit."""
    also_all: bool
    """Drilled at every transmitter at once, too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OnBench:
    """How a builder tries a kind on the bench."""

    title: str
    hand: Literal["supply", "button", "firmware"]
    """What it takes; steps of one hand stand together on the sheet."""
    do: str
    """What to do to a unit; `{supply}`: how its supply is switched off."""
    if_not: str
    """What a measurement outside the bands most likely means, beyond what holds for every kind;
    empty: nothing more. `{failsafe}`, `{output}`, `{boot_s}`, …: keys of the units tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NotOnBench:
    """Why a kind is not tried on the bench."""

    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultKind:
    """One kind of fault: all that any part of radiosim must know of it. ValueError: a row lacks
    something, or contradicts itself."""

    name: str
    meaning: str
    """What happens, in a builder's words."""
    standard: str
    """Term of a standard; empty: none."""
    units: tuple[UnitKind, ...]
    """What can have it; a fault of the air that transmitters can have too is everybody's."""
    is_lasting: bool
    """Goes on until it ends; else it is over as soon as it happens, but for boot or recheck."""
    begins: Happening
    ends: Happening | None
    """None unless it lasts. Left out while another fault of the kind and unit goes on."""
    impairs: tuple[Part, ...]
    """What is not well while it lasts, and so which trips it explains (rule F5)."""
    restarts: bool
    """The unit boots when it is over."""
    ended_by: tuple[str, ...]
    """What ends it before its time: other kinds of fault, WATCHDOG, RECHECK."""
    over: str
    """What ends it, as a noun."""
    drilled: tuple[Drilled, ...]
    """Empty: not drilled."""
    caption: str
    """What a picture of a long gap says of it; `{unit}` is the unit."""
    bench: OnBench | NotOnBench
    law: str
    """Rule of model.md that says what it does."""

    def __post_init__(self) -> None:
        for wrong in self._wrongs():
            raise ValueError(f"fault kind {self.name!r}: {wrong}")

    def _wrongs(self) -> tuple[str, ...]:
        at = tuple(drilled.at for drilled in self.drilled)
        words = (
            *(self.name, self.meaning, self.over, self.caption, self.law),
            *self._words_of_bench(),
        )
        checks = {
            "a text is empty": not all((*words, *(row.words for row in self.drilled))),
            "needs at least one unit": not self.units,
            "has a unit that there is not": not set(self.units) <= set(_UNIT_KINDS),
            "lasts, and nothing ends it": self.is_lasting and self.ends is None,
            "does not last, and something ends it": not self.is_lasting and self.ends is not None,
            "impairs a part that there is not": not set(self.impairs) <= set(PARTS),
            "is drilled where it cannot happen": not set(at) <= set(self.units),
            "is drilled twice at one unit": len(set(at)) < len(at),
            "is drilled, and impairs nothing": bool(self.drilled) and not self.impairs,
        }
        return tuple(text for text, is_wrong in checks.items() if is_wrong)

    def _words_of_bench(self) -> tuple[str, ...]:
        if isinstance(self.bench, NotOnBench):
            return (self.bench.why,)
        return (self.bench.title, self.bench.hand, self.bench.do)

    @property
    def is_silencing(self) -> bool:
        """Whether nothing new arrives while it lasts; old values that repeat do arrive."""
        return bool(set(self.impairs) - {VALUES})

    @property
    def stops_pulses(self) -> bool:
        """Whether a receiver's pins float while it lasts."""
        return self.restarts and PROGRAM in self.impairs

    def is_everybodys(self, unit: str) -> bool:
        """Whether a fault of the unit strikes every transmitter."""
        return unit == AIR and TRANSMITTER in self.units
