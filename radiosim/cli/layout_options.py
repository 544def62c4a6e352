"""What the options of `radiosim layout` mean."""

from typing import TYPE_CHECKING, Literal

from radiosim.errors import OptionError
from radiosim.scenario.problems import shown

if TYPE_CHECKING:
    from radiosim.scenario.named_layout import NamedLayout

Length = Literal["own", "fixed", "padded"]


def length_of(text: str) -> tuple[Length, int]:
    """Which way to set the payload's length is judged, and to what both radios may be set.

    OptionError for anything but own, fixed, or 1 to 32 bytes.
    """
    from radiosim.layout import LONGEST_PAYLOAD_BYTES

    if text == "own":
        return "own", LONGEST_PAYLOAD_BYTES
    if text == "fixed":
        return "fixed", LONGEST_PAYLOAD_BYTES
    if text.isdecimal() and text.isascii() and 1 <= int(text) <= LONGEST_PAYLOAD_BYTES:
        return "padded", int(text)
    raise OptionError(
        f"--payload-length: must be own, fixed, or 1 to {LONGEST_PAYLOAD_BYTES} bytes, got "
        f"{shown(text)}"
    )


def versions_of(text: str | None) -> tuple[int, int] | None:
    """Version numbers of old and new; OptionError unless two whole numbers."""
    if text is None:
        return None
    numbers = [part.strip() for part in text.split(",")]
    if len(numbers) != 2 or not all(part.isdecimal() and part.isascii() for part in numbers):
        raise OptionError(f"--versions: must be two whole numbers, as 1,2, got {shown(text)}")
    return int(numbers[0]), int(numbers[1])


def refuse_without_scenario(source: str | None, **given: object) -> None:
    """OptionError for an option that means something only beside --scenario."""
    for name, value in given.items():
        if source is None and value:
            raise OptionError(f"--{name}: must go with --scenario, which is not there")


def emitted(named: "NamedLayout", to: str) -> str:
    """Text of what is to be written for the firmware; OptionError for an unknown kind."""
    from radiosim.layout.emit_c import c_header
    from radiosim.layout.emit_vectors import vectors
    from radiosim.report.layouts import layout_data, vectors_data
    from radiosim.results.data import json_of

    if to == "c":
        return c_header(named.layout)
    if to == "json":
        return json_of(layout_data(named))
    if to == "vectors":
        return json_of(vectors_data(named, vectors(named.layout)))
    raise OptionError(f"--to: must be c, json or vectors, got '{to}'")
