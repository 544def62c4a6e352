"""Answers of a builder: how their text is read, and which vehicles they can name."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from radiosim.errors import RadiosimError
from radiosim.safety import STILL
from radiosim.scenario.checks.view import MOST_TRANSMITTERS
from radiosim.scenario.danger import MOTOR_NAMES
from radiosim.scenario.key_paths import nearest
from radiosim.scenario.problems import shown

PULSE_US = (1000.0, 2000.0)
MIDDLE_US = 1500.0
_TWO_WAY_US = 150.0
"""A controller that runs both ways stands still within so much of the middle (no source)."""
_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]{0,29}")
_UNITS = re.compile(r"(?<![\w.])([+-]?\d[\d.eE+-]*)\s*[mu]?s\b", re.IGNORECASE)
"""A number with its unit behind it; never the end of a name."""
_RESERVED = ("receiver", "air")
MOST_BYTES = 32
CONTROL_BYTES = {"motor": 2, "servo": 2, "bridge": 2, "switch": 1, "none": 2}
"""Kind of output → bytes of the field that it follows."""


class AnswerError(RadiosimError):
    """An answer that cannot be used: what it must be, and what it was."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What is known so far; empty until asked."""

    drives: str = ""
    controls: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Transmitter → what it sends."""
    every_ms: Mapping[str, float] = field(default_factory=dict)
    """Transmitter → its period."""
    acknowledge: bool = True
    rate: str = ""
    read: str = ""
    loop_ms: float = 0.0
    outputs: Mapping[str, str] = field(default_factory=dict)
    """Control → what it moves."""
    idle_us: Mapping[str, float | None] = field(default_factory=dict)
    """Control that drives by pulses → the pulse at which it stands still; None: not known."""
    failsafe_ms: Mapping[str, float | None] = field(default_factory=dict)
    """Transmitter → timeout; None: no failsafe."""
    boot_s: Mapping[str, float] = field(default_factory=dict)
    """Unit → from its power-on until it sends, or reads."""
    given: frozenset[str] = frozenset()
    """Questions whose answer the builder gave; the others' are guesses."""

    def driving(self) -> tuple[str, ...]:
        """Controls whose pulses may drive something, so that no neutral can be guessed."""
        return tuple(
            control
            for control, kind in self.outputs.items()
            if kind == "motor" or (kind == "servo" and MOTOR_NAMES.search(control))
        )

    def is_one_way(self, control: str) -> bool:
        """Whether a control goes from standing still on, as every propeller in the air does."""
        idle_us = self.idle_us.get(control)
        if idle_us is None:
            return control in self.idle_us and self.drives == "aircraft"
        return abs(idle_us - MIDDLE_US) > _TWO_WAY_US

    def pulse_us(self, control: str) -> tuple[float, float]:
        """Pulses at the lowest and the highest value of a control."""
        idle_us = self.idle_us.get(control)
        if idle_us is None or not self.is_one_way(control):
            return PULSE_US
        return idle_us, PULSE_US[idle_us < MIDDLE_US]

    def all_controls(self) -> tuple[str, ...]:
        """Every control of every transmitter, in order."""
        return tuple(control for controls in self.controls.values() for control in controls)


def one_of(text: str, known: Iterable[str]) -> str:
    """A word that is known; AnswerError for another."""
    word = text.strip().lower()
    names = {name.lower(): name for name in known}
    if word not in names:
        hint = nearest(text.strip(), names.values())
        raise AnswerError(f"must be one of {', '.join(names.values())}, got {shown(text)}{hint}")
    return names[word]


def number(text: str, low: float, high: float) -> float:
    """A number between two others; AnswerError for anything else."""
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        raise AnswerError(f"must be a number from {low:g} to {high:g}, got {shown(text)}")
    return value


def transmitters(text: str) -> dict[str, tuple[str, ...]]:
    """Transmitters with their controls, from `drive: throttle, steer; head: pan, tilt`."""
    found: dict[str, tuple[str, ...]] = {}
    for part in filter(str.strip, text.split(";")):
        name, *controls = _words(part) or [part]
        _check_name(name, found)
        if name in _RESERVED:
            raise AnswerError(f"must not have a transmitter named {name!r}")
        if not controls:
            raise AnswerError(f"must say what each transmitter sends, got nothing for {name!r}")
        for control in controls:
            # A control gives its output the name, so that one name cannot stand for two.
            _check_name(control, [c for taken in (*found.values(), ()) for c in taken])
        for control in controls:
            if controls.count(control) > 1:
                raise AnswerError(f"must have different names, got {control!r} twice")
        found[name] = tuple(controls)
    if not 1 <= len(found) <= MOST_TRANSMITTERS:
        raise AnswerError(f"must be 1 to {MOST_TRANSMITTERS} transmitters, got {len(found)}")
    for name, sent in found.items():
        if (size := CONTROL_BYTES["servo"] * len(sent)) > MOST_BYTES:
            raise AnswerError(
                f"must fit frames of {MOST_BYTES} bytes, got {size} bytes of controls for {name!r}"
            )
    return found


def _words(text: str) -> list[str]:
    return [word for word in re.split(r"[\s,:=]+", text) if word]


def _check_name(name: str, taken: Iterable[str]) -> None:
    if not _NAME.fullmatch(name):
        raise AnswerError(
            "must have names of at most 30 letters, digits and _, not begun by a digit, "
            f"got {shown(name)}"
        )
    if name in taken:
        raise AnswerError(f"must have different names, got {name!r} twice")


def by_name(text: str, names: tuple[str, ...], others: Mapping[str, str]) -> dict[str, str]:
    """A word for each name: one for all, one each in order, or `NAME WORD, NAME WORD`.

    In the last form names that are left out keep the word of `others`. `ms`, `us` or `s`
    behind a number may be said.
    """
    plain = _UNITS.sub(r"\1", text)
    parts = [_words(part) for part in re.split(r"[,;]", plain) if part.strip()]
    if all(len(part) == 1 for part in parts):
        words = [part[0] for part in parts]
        if len(words) == 1:
            return dict.fromkeys(names, words[0])
        if len(words) == len(names):
            return dict(zip(names, words, strict=True))
        raise AnswerError(f"must be one for all, or {len(names)} in order, got {len(words)}")
    said = dict(others)
    for part in parts:
        if len(part) != 2:
            raise AnswerError(f"must be NAME VALUE, got {shown(' '.join(part))}")
        if part[0] not in names:
            known = ", ".join(names)
            raise AnswerError(f"must name one of {known}, got {shown(part[0])}")
        said[part[0]] = part[1]
    return said


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """A kind of vehicle. Its figures are guesses from common practice, no source."""

    runs_away: str
    """What happens if it does."""
    timeout_ms: float
    """Silence after which it should stop."""
    stop_s: float
    """How long it takes to stand still."""
    caution: str
    """What to mind on the bench and at the first try."""


VEHICLES: dict[str, Vehicle] = {
    "rover": Vehicle(
        runs_away="slow: it pushes into something",
        timeout_ms=500,
        stop_s=0.3,
        caution="wheels or tracks off the ground, propellers off, until its failsafe was tried on "
        "the bench",
    ),
    "car": Vehicle(
        runs_away="fast: it hurts a leg, or is gone",
        timeout_ms=250,
        stop_s=1.0,
        caution=f"{STILL}, until its failsafe was tried on the bench; then on a tether",
    ),
    "boat": Vehicle(
        runs_away="nobody can fetch it",
        timeout_ms=500,
        stop_s=2.0,
        caution="propeller off until its failsafe was tried on the bench; nobody in the water",
    ),
    "aircraft": Vehicle(
        runs_away="it falls or flies away",
        timeout_ms=500,
        stop_s=0.5,
        caution="propellers off until its failsafe was tried on the bench; a home-made link is "
        "not for flights near people",
    ),
    "machine": Vehicle(
        runs_away="it moves where a hand may be",
        timeout_ms=250,
        stop_s=0.3,
        caution="nobody within its reach; an emergency stop that needs no radio, as licensed "
        "practice and local codes ask",
    ),
}
