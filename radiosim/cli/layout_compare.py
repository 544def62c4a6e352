"""What the options of `radiosim layout compare` mean, and the link that it simulates."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from radiosim.cli.options import OptionError
from radiosim.errors import ScenarioError
from radiosim.scenario.problems import shown

if TYPE_CHECKING:
    from radiosim.cli.layout import CompareOptions
    from radiosim.scenario import Scenario
    from radiosim.scenario.named_layout import NamedLayout
    from radiosim.study.layout_change import LayoutChange


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulated:
    """What a scenario said of the change, if one was given."""

    change: "LayoutChange | None" = None
    refusal: str = ""
    """Why the link cannot be simulated with the new layout."""
    seed: int | None = None
    """Of the scenario."""


def simulated_change(
    options: "CompareOptions", source: str, old: "NamedLayout", new: "NamedLayout"
) -> Simulated:
    """Both layouts in the scenario; OptionError or ScenarioError for what cannot be simulated at
    all.

    A new layout that makes no sound link is no error: that is what was to be found out.
    """
    from radiosim.cli.running import running
    from radiosim.cli.scenario_source import load_scenario
    from radiosim.scenario.changed import with_layout
    from radiosim.study.layout_change import layout_change

    scenario = load_scenario(source, options.set_)
    streams = _streams(scenario, old, options.stream)
    key = scenario.transmitter[streams[0]].layout
    if key.startswith("plain_"):
        key = old.layout.name
    before, _ = with_layout(scenario, streams, old, key)
    try:
        after, notes = with_layout(scenario, streams, new, key)
    except ScenarioError as error:
        return Simulated(refusal=str(error), seed=scenario.seed)
    with running(options, scenario, scenario.starts, "starts") as how:
        change = layout_change(before, after, streams, notes=notes, **how)
    return Simulated(change=change, seed=scenario.seed)


def _streams(scenario: "Scenario", old: "NamedLayout", asked: tuple[str, ...]) -> tuple[str, ...]:
    from radiosim.scenario.changed import streams_with

    known = ", ".join(scenario.transmitter)
    for name in asked:
        if name not in scenario.transmitter:
            raise OptionError(f"--stream: must be one of {known}, got '{name}'")
    streams = asked or streams_with(scenario, old)
    if not streams:
        raise OptionError(
            f"--scenario: must have a stream whose layout is {old.layout.name}, or say whose "
            f"frames change with --stream ({known})"
        )
    return streams
