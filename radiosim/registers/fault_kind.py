"""The shape of a row of the register of fault kinds; a row that lacks something does not import."""

from collections.abc import Callable
from enum import Enum
from typing import Literal, Protocol, cast, get_args

import msgspec

UnitKind = Literal["transmitter", "receiver", "air"]
TRANSMITTER: UnitKind = "transmitter"
RECEIVER: UnitKind = "receiver"
AIR: UnitKind = "air"

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
    FEW = "after that, frames arrive again and again, each time too few to end failsafe"
    REPEATS = "old values arrive again and again"
    NO_PULSES = "the receiver's pins float"
    STANDSTILL = "the receiver's program stands still while its pulses go on"


class FaultyUnit(Protocol):
    """What can be done to a unit, or to the air, at an instant in ns (see engine/timeline.py).

    What several faults take is given back when the last of them ends, whatever their kinds.
    """

    def power_on(self, at_ns: int) -> None:
        """Of a transmitter or receiver: it gets its power, if it has none, and boots."""

    def power_off(self, at_ns: int) -> None:
        """Of a transmitter or receiver: it loses its power, radio and all."""

    def restore_power(self, at_ns: int) -> None:
        """Of a transmitter or receiver: it gets back the power that a fault took."""

    def reset(self, at_ns: int) -> None:
        """Of a transmitter or receiver: its program starts again."""

    def hold_in_reset(self, at_ns: int) -> None:
        """Of a transmitter or receiver: its program stops, for want of voltage."""

    def release(self, at_ns: int) -> None:
        """Of a transmitter or receiver: a program held in reset boots."""

    def hang(self, at_ns: int) -> None:
        """Of a transmitter or receiver: its program stands still where it is, until a boot."""

    def go_on(self, at_ns: int) -> None:
        """Of a transmitter or receiver: a program that hangs goes on."""

    def lose_settings(self, at_ns: int) -> None:
        """Of a transmitter or receiver: its radio stops, until the program sets it up again."""

    def freeze_values(self, at_ns: int) -> None:
        """Of a transmitter: it sends its last values again and again, until a boot."""

    def thaw_values(self, at_ns: int) -> None:
        """Of a transmitter: its values are new ones again."""

    def leave(self, at_ns: int) -> None:
        """Of a transmitter, or of the air and so of each transmitter: it goes out of range."""

    def come_back(self, at_ns: int) -> None:
        """Of a transmitter, or of the air and so of each transmitter: it is in range again."""

    def jam(self, at_ns: int) -> None:
        """Of the air: nothing gets through."""

    def clear(self, at_ns: int) -> None:
        """Of the air: it is quiet again."""


GIVEN_BACK_BY = {
    "power_off": "restore_power",
    "hold_in_reset": "release",
    "hang": "go_on",
    "freeze_values": "thaw_values",
    "leave": "come_back",
    "jam": "clear",
}
"""What takes something from a unit → what gives the same back."""
_ENDED_BY = {"power_off": "power_on", "hang": WATCHDOG, "lose_settings": RECHECK}
"""What is done to a unit → what ends that before its time, in every kind of fault."""
_AT_ONCE = ("power_on", "reset", "lose_settings")
_GIVING = (*GIVEN_BACK_BY.values(), "power_on")
_AT_TRANSMITTERS_ALONE = ("freeze_values", "thaw_values", "leave", "come_back")
_AT_AIR_ALONE = ("jam", "clear")

Happening = Callable[[FaultyUnit, int], None]
"""What a fault does to a unit at an instant in ns; the same whenever it happens."""


class _Notes:
    """A unit that notes the names of what is done to it."""

    def __init__(self) -> None:
        self.names: list[str] = []

    def __getattr__(self, name: str) -> Callable[[int], None]:
        return lambda at_ns: self.names.append(name)


def _done_by(happening: Happening | None) -> tuple[str, ...]:
    """Names of what a happening does to a unit."""
    notes = _Notes()
    if happening is not None:
        happening(cast(FaultyUnit, notes), 0)
    return tuple(notes.names)


def _can_have(unit: UnitKind, name: str) -> bool:
    """Whether something can be done to a sort of unit."""
    if name in _AT_AIR_ALONE:
        return unit == AIR
    return unit == TRANSMITTER or (unit == RECEIVER and name not in _AT_TRANSMITTERS_ALONE)


class Drilled(msgspec.Struct, frozen=True, kw_only=True):
    """Where `radiosim failsafe` drills a kind, and what must be expected."""

    at: UnitKind
    effect: Effect
    words: str
    """What happens, as it is said of a unit."""
    also_all: bool
    """Drilled at every transmitter at once, too."""


Hand = Literal["supply", "button", "firmware"]
HANDS: tuple[Hand, ...] = get_args(Hand)
"""What a step of the bench takes, in the order in which to try it."""


class OnBench(msgspec.Struct, frozen=True, kw_only=True):
    """How a builder tries a kind on the bench."""

    title: str
    hand: Hand
    """What it takes; steps of one hand stand together on the sheet."""
    do: str
    """What to do to a unit; `{supply}`: how its supply is switched off; `{lasts}`: for how
    long it was drilled."""
    if_not: str
    """What a measurement outside the bands most likely means, beyond what holds for every kind;
    empty: nothing more. `{failsafe}`, `{output}`, `{boot_s}`, …: keys of the units tried."""


class NotOnBench(msgspec.Struct, frozen=True, kw_only=True):
    """Why a kind is not tried on the bench."""

    why: str


class FaultKind(msgspec.Struct, frozen=True, kw_only=True):
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
    """None unless it lasts. Gives back what `begins` takes, and no more; what another fault of
    the unit takes too, of whatever kind, comes back with the end of the last of them."""
    impairs: tuple[Part, ...]
    """What is not well while it lasts, and so which trips it explains (rule F5)."""
    restarts: bool
    """The unit boots when it is over."""
    ended_by: tuple[str, ...]
    """What ends it before its time: other kinds of fault, WATCHDOG, RECHECK."""
    over: str
    """What ends it, as a noun. The bench test sheet prints `Back: from {over}.`, so with a bench
    step it is something that the step's `do` does."""
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
        drills = tuple((drilled.at, drilled.effect) for drilled in self.drilled)
        words = (
            *(self.name, self.meaning, self.over, self.caption, self.law),
            *self._words_of_bench(),
        )
        checks = {
            "a text is empty": not all((*words, *(row.words for row in self.drilled))),
            "needs at least one unit": not self.units,
            "has a unit that there is not": not set(self.units) <= set(get_args(UnitKind)),
            "lasts, and nothing ends it": self.is_lasting and self.ends is None,
            "does not last, and something ends it": not self.is_lasting and self.ends is not None,
            "impairs a part that there is not": not set(self.impairs) <= set(PARTS),
            "is drilled where it cannot happen": not set(at) <= set(self.units),
            "is drilled twice at one unit": len(set(drills)) < len(drills),
            "is drilled, and impairs nothing": bool(self.drilled) and not self.impairs,
        }
        of_words = tuple(text for text, is_wrong in checks.items() if is_wrong)
        return (*of_words, *self._wrongs_of_what_it_does())

    def _wrongs_of_what_it_does(self) -> tuple[str, ...]:
        begun, ended = _done_by(self.begins), _done_by(self.ends)
        taken = {GIVEN_BACK_BY[name] for name in begun if name in GIVEN_BACK_BY}
        given = {name for name in ended if name in _GIVING}
        known = {*_AT_ONCE, *GIVEN_BACK_BY, *GIVEN_BACK_BY.values()}
        done = tuple(dict.fromkeys((*begun, *ended)))
        checks = {
            **{f"does {name!r}, which is not of FaultyUnit": name not in known for name in done},
            **{
                f"does {name!r} to a unit that cannot have it: {unit}": not _can_have(unit, name)
                for unit in self._struck
                for name in done
            },
            **{
                f"is ended by {by!r}, and does not say so": name in begun
                and by not in self.ended_by
                for name, by in _ENDED_BY.items()
            },
            "does nothing as it begins": not begun,
            "takes something as it ends": bool(set(ended) & set(GIVEN_BACK_BY)),
            "gives something back as it begins": bool(set(begun) & set(GIVEN_BACK_BY.values())),
            "gives back other things than it takes": taken != given,
            "takes one thing twice, or gives it back twice": len(begun) + len(ended)
            > len(set(begun)) + len(set(ended)),
        }
        return tuple(text for text, is_wrong in checks.items() if is_wrong)

    @property
    def _struck(self) -> tuple[UnitKind, ...]:
        """Sorts of unit that its steps strike; everybody's fault strikes no air."""
        is_air_struck = not self.is_everybodys(AIR)
        return tuple(unit for unit in self.units if unit != AIR or is_air_struck)

    def _words_of_bench(self) -> tuple[str, ...]:
        if isinstance(self.bench, NotOnBench):
            return (self.bench.why,)
        return (self.bench.title, self.bench.hand, self.bench.do)

    @property
    def boots_cold(self) -> bool:
        """Whether a unit comes back from it as from power-on, not as from a reset."""
        done = {*_done_by(self.begins), *_done_by(self.ends)}
        return bool(done & {"power_on", "restore_power"})

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
