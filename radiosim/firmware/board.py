"""What a whole firmware is connected to on the emulated chip, as its builder tells it."""

import re
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from radiosim.errors import FirmwareError, OptionError, short_name
from radiosim.scenario import Scenario

_PIN = re.compile(r"[A-L][0-7]")
_NEEDED, _MORE = ("select", "enable"), ("line", "mark")
_MHZ = "mhz"
_LOWEST_MHZ, _HIGHEST_MHZ = 1.0, 20.0
_NOTE = b"AVR\0"
_MEMORIES_BYTES = 24
"""Of the note that the toolchain leaves in an image; then offsets to names, then names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """Pins by what is on them, and the frequency of the chip's clock."""

    hz: int
    pins: Mapping[str, str]
    """`select`, `enable`, and where there are such: `line`, `mark`; pins such as "D3"."""
    outputs: Mapping[str, str]
    """Pin of each output that is looked at, by its name."""


def board_of(text: str, scenario: Scenario) -> Board:
    """A board of a text such as "mhz=16, select=B2, enable=B1, line=D2, mark=C0, motor=D3".

    Nothing is guessed: OptionError, with what is allowed, if anything lacks or is not known.
    """
    given: dict[str, str] = {}
    for part in text.split(","):
        name, equals, value = (piece.strip() for piece in part.partition("="))
        if not equals or not value:
            raise OptionError(f"--pins: {part.strip()!r} is none of NAME=VALUE, such as select=B2")
        if name in given:
            raise OptionError(f"--pins: {name} stands there twice")
        given[name] = value
    names = (_MHZ, *_NEEDED, *_MORE, *scenario.output)
    for name in given:
        if name not in names:
            raise OptionError(f"--pins: {name} is none of {', '.join(names)}")
    for name in (_MHZ, *_NEEDED):
        if name not in given:
            raise OptionError(f"--pins: {name} lacks; it must have {_MHZ}, {', '.join(_NEEDED)}")
    hz = _hz(given.pop(_MHZ))
    _check(given)
    outputs = {name: pin for name, pin in given.items() if name in scenario.output}
    if not any(scenario.output[name].kind == "servo" for name in outputs):
        raise OptionError("--pins: no pin of a servo output is among them")
    pins = {name: pin for name, pin in given.items() if name in (*_NEEDED, *_MORE)}
    return Board(hz=hz, pins=pins, outputs=outputs)


def _hz(text: str) -> int:
    try:
        mhz = float(text)
    except ValueError:
        mhz = -1.0
    if not _LOWEST_MHZ <= mhz <= _HIGHEST_MHZ:
        raise OptionError(
            f"--pins: mhz={text} is no frequency of {_LOWEST_MHZ:g} to {_HIGHEST_MHZ:g} MHz"
        )
    return round(1_000_000 * mhz)


def _check(pins: Mapping[str, str]) -> None:
    used: dict[str, str] = {}
    for name, pin in pins.items():
        if not _PIN.fullmatch(pin):
            raise OptionError(f"--pins: {name}={pin} is no pin; a pin is a port and a bit, as D3")
        if pin in used:
            raise OptionError(f"--pins: {name} and {used[pin]} are both on {pin}")
        used[pin] = name


def chip_of(image: Path) -> str:
    """What the toolchain calls the chip that an image is for; FirmwareError if it is no image."""
    try:
        content = image.read_bytes()
    except OSError as error:
        raise FirmwareError(f"{short_name(image)}: cannot be read: {error.strerror}") from None
    if content[:4] != b"\x7fELF":
        raise FirmwareError(f"{short_name(image)}: is no image of a linker (ELF)")
    at = content.find(_NOTE)
    name = ""
    while at >= 0 and not name:
        name = _name_in(content[at + len(_NOTE) :])
        at = content.find(_NOTE, at + 1)
    if not name:
        raise FirmwareError(
            f"{short_name(image)}: does not say which chip it is for; link it with avr-gcc -mmcu=…"
        )
    return name


def _name_in(note: bytes) -> str:
    if len(note) < _MEMORIES_BYTES + 8:
        return ""
    table_bytes, first = struct.unpack_from("<II", note, _MEMORIES_BYTES)
    if not 8 <= table_bytes <= 64:
        return ""
    names = note[_MEMORIES_BYTES + table_bytes :]
    found = re.match(rb"([a-z0-9]{4,24})\0", names[first : first + 25])
    return found[1].decode() if found else ""
