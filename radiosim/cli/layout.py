"""`radiosim layout`: what is inside a frame, and what a change of it does."""

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from radiosim.cli.console import DONE, NOT_HELD
from radiosim.cli.options import (
    REQUIRED,
    Mark,
    Options,
    Overridden,
    PageAndFiles,
    Simulates,
    argument,
    option,
)
from radiosim.errors import OptionError

if TYPE_CHECKING:
    from radiosim.scenario.named_layout import NamedLayout

Length = Literal["own", "fixed", "padded"]
_MOST_DIGITS = 20
WHAT = "A layout: SCENARIO.toml:NAME, or a struct as HEADER:STRUCT@ABI."


@dataclass(frozen=True, kw_only=True)
class OneLayout(Options):
    """Which layout is read."""

    layout: str = argument("LAYOUT", WHAT, Mark.LAYOUT)


@dataclass(frozen=True, kw_only=True)
class ShowOptions(OneLayout, PageAndFiles):
    """Options of `radiosim layout show`."""

    COMMAND = "layout show"

    svg: Path | None = option("FILE", "Write the map as a picture.", Mark.TARGET, Mark.UNSAID)


def show(options: ShowOptions) -> int:
    """Show where each field lies, and what a servo sees of it."""
    from radiosim.cli.harness import origin_of
    from radiosim.cli.targets import write_report
    from radiosim.report.figures.byte_map import svg_map
    from radiosim.report.files import write_whole
    from radiosim.report.layouts import layout_report

    named = _named(options.layout)
    if options.svg is not None:
        write_whole(options.svg, svg_map(named.layout))
    write_report(layout_report(named, origin_of(options, "", None)), options)
    return DONE


@dataclass(frozen=True, kw_only=True)
class CheckOptions(PageAndFiles):
    """Options of `radiosim layout check`."""

    COMMAND = "layout check"

    layouts: tuple[str, ...] = argument("LAYOUT...", WHAT, Mark.LAYOUT)


def check(options: CheckOptions) -> int:
    """List what can go wrong with a layout on the way from one firmware to another.

    Exit code: 1 if something is sure to, else 0.
    """
    from radiosim.cli.harness import origin_of
    from radiosim.cli.targets import write_report
    from radiosim.report.layout_check import checks_data, checks_report

    named = [_named(layout, any_target=True) for layout in options.layouts]
    data = checks_data(named)
    write_report(checks_report(named, data, origin_of(options, "", None)), options)
    return DONE if data.is_ok else NOT_HELD


@dataclass(frozen=True, kw_only=True)
class CompareOptions(Overridden, PageAndFiles, Simulates):
    """Options of `radiosim layout compare`."""

    COMMAND = "layout compare"

    old: str = argument("OLD", WHAT, Mark.LAYOUT)
    new: str = argument("NEW", "The layout after the change.", Mark.LAYOUT)
    payload_length: str = option(
        "own|fixed|N",
        "Which length the exit code judges: own; fixed, each radio to its frame's; or N "
        "bytes for both.",
        default="own",
    )
    versions: str | None = option("OLD,NEW", "Numbers in the fields called version.")
    same: tuple[str, ...] = option(
        "NAME",
        "What is asked about (a field, the layout, a value) and means what it meant; repeatable.",
        default=(),
    )
    scenario: str | None = option(
        "SCENARIO", "Simulate this link with both layouts, and tell what changes.", Mark.SCENARIO
    )
    stream: tuple[str, ...] = option(
        "NAME", "Whose frames change; left out: all that have OLD.", default=()
    )

    def check(self) -> None:
        """OptionError for options that mean something only beside --scenario."""
        for name, value in (("--stream", self.stream), ("--set", self.set_)):
            if self.scenario is None and value:
                raise OptionError(f"{name}: must go with --scenario, which is not there")


def compare(options: CompareOptions) -> int:
    """Tell what an old receiver reads of a new transmitter's frames, and the other way round.

    Exit code: 0 if each end surely reads all that the other sends, else 1.
    """
    from msgspec.structs import replace

    from radiosim.cli.harness import origin_of, running
    from radiosim.cli.options import load_scenario
    from radiosim.cli.targets import write_report
    from radiosim.layout.compare import compare as compared_layouts
    from radiosim.report.layout_compare import compare_report
    from radiosim.scenario.named_layout import comments_of, values_of, with_units_of
    from radiosim.study.layout_change import link_change

    length, padded_to_bytes = _length_of(options.payload_length)
    versions = _versions_of(options.versions)
    asked = _named(options.old), _named(options.new)
    before, after = with_units_of(*asked), with_units_of(*reversed(asked))
    compared = compared_layouts(
        before.layout,
        after.layout,
        padded_to_bytes=padded_to_bytes,
        versions=versions,
        comments=comments_of(before, after),
        values=values_of(before, after),
        same=options.same,
    )
    origin = origin_of(options, options.scenario or "", None)
    link = None
    if options.scenario is not None:
        scenario = load_scenario(options.scenario, options.set_)
        with running(options, scenario, scenario.starts, "starts") as how:
            link = link_change(scenario, before, after, options.stream, **how)
    report = compare_report(
        compared,
        (before, after),
        length,
        replace(origin, seed=None if link is None else link.seed),
        link=None if link is None else link.change,
        not_simulated="" if link is None else link.refusal,
    )
    write_report(report, options)
    return DONE if compared.is_compatible(length) else NOT_HELD


def _length_of(text: str) -> tuple[Length, int]:
    """Which way to set the payload's length is judged, and to what both radios may be set.

    OptionError for anything but own, fixed, or 1 to 32 bytes.
    """
    from radiosim.layout import LONGEST_PAYLOAD_BYTES
    from radiosim.scenario.problems import shown

    if text == "own":
        return "own", LONGEST_PAYLOAD_BYTES
    if text == "fixed":
        return "fixed", LONGEST_PAYLOAD_BYTES
    if (size := _whole(text)) is not None and 1 <= size <= LONGEST_PAYLOAD_BYTES:
        return "padded", size
    raise OptionError(
        f"--payload-length: must be own, fixed, or 1 to {LONGEST_PAYLOAD_BYTES} bytes, got "
        f"{shown(text)}"
    )


def _versions_of(text: str | None) -> tuple[int, int] | None:
    """Version numbers of old and new; OptionError unless two whole numbers."""
    from radiosim.scenario.problems import shown

    if text is None:
        return None
    numbers = [part.strip() for part in text.split(",")]
    old, new = map(_whole, numbers) if len(numbers) == 2 else (None, None)
    if old is None or new is None:
        raise OptionError(f"--versions: must be two whole numbers, as 1,2, got {shown(text)}")
    return old, new


def _whole(text: str) -> int | None:
    """A whole number of few enough digits that Python reads them all; None for other text."""
    is_whole = text.isascii() and text.isdecimal() and len(text) <= _MOST_DIGITS
    return int(text) if is_whole else None


@dataclass(frozen=True, kw_only=True)
class EmitOptions(OneLayout):
    """Options of `radiosim layout emit`."""

    COMMAND = "layout emit"

    to: str = option("c|json|vectors", "What to write.", default=REQUIRED)
    out: Path | None = option("FILE", "Write it here, not to the screen.", Mark.TARGET)


def emit(options: EmitOptions) -> int:
    """Write a layout for the firmware: a C header, JSON, or frames to test with."""
    from radiosim.cli.console import tell
    from radiosim.report.files import write_whole

    text = _emitted(_named(options.layout), options.to)
    if options.out is None:
        sys.stdout.write(text)
    else:
        write_whole(options.out, text)
        tell(f"wrote {options.out}")
    return DONE


def _named(argument: str, *, any_target: bool = False) -> "NamedLayout":
    from radiosim.scenario.named_layout import named_layout
    from radiosim.scenario.shipped import scenario_path

    return named_layout(argument, scenario_path, any_target=any_target)


def _emitted(named: "NamedLayout", to: str) -> str:
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
