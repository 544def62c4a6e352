"""What the cross-checks look at: the file's view, plain names, and references between tables."""

import re
from collections.abc import Collection, Iterator, Mapping

import msgspec

from radiosim.errors import LayoutError
from radiosim.layout import LONGEST_PAYLOAD_BYTES, Layout, LayoutDescription, lay_out, plain_layout
from radiosim.radio.profiles import PROFILES, Profile
from radiosim.scenario.key_paths import Path, listed, nearest, path_of
from radiosim.scenario.problems import shown
from radiosim.scenario.structs.scenario_file import ScenarioFile

Found = tuple[Path, str]


class View(msgspec.Struct, frozen=True, kw_only=True):
    """A scenario's file with the figures and layouts that could be made of it."""

    file: ScenarioFile
    profile: Profile | None
    """The radio's figures; None if the profile is unknown."""
    layouts: Mapping[str, Layout]
    """Layouts by name; those that cannot be laid out are left out."""
    streams: Mapping[str, Layout]
    """Layout of each stream's frames, where it has one that could be laid out."""
    layout_problems: tuple[Found, ...]
    """What is wrong with those that cannot."""

    def fields(self, stream: str) -> tuple[str, ...] | None:
        """Names of a stream's fields; None if they are not known."""
        layout = self.streams.get(stream)
        return None if layout is None else tuple(field.name for field in layout.fields)


def plain_name(payload_bytes: int) -> str:
    """Name of the layout that stands for `payload_bytes`."""
    return f"plain_{payload_bytes}"


def output_names(file: ScenarioFile) -> tuple[tuple[str, str], ...]:
    """(name, stream) of the output that each stream without one is given."""
    driven = {output.stream for output in file.output.values()}
    taken = set(file.output)
    added = []
    for stream in file.transmitter:
        if stream not in driven:
            name = stream
            while name in taken:
                name += "_output"
            taken.add(name)
            added.append((name, stream))
    return tuple(added)


def laid_out_of(
    descriptions: Mapping[str, LayoutDescription], longest_bytes: int
) -> tuple[dict[str, Layout], tuple[Found, ...]]:
    """Those layouts that can be laid out, by name, and the problems of the others."""
    layouts: dict[str, Layout] = {}
    problems: list[Found] = []
    for name, description in descriptions.items():
        try:
            layouts[name] = lay_out(name, description, longest_bytes=longest_bytes)
        except LayoutError as error:
            problems.extend(
                (("layout", name, *path_of(where.removeprefix(f"layout.{name}."))), text)
                for where, text in error.problems
            )
    return layouts, tuple(problems)


def view_of(file: ScenarioFile) -> View:
    """The view of a scenario's file."""
    layouts, problems = laid_out_of(file.layout, LONGEST_PAYLOAD_BYTES)
    streams = {}
    for name, unit in file.transmitter.items():
        if unit.layout in layouts:
            streams[name] = layouts[unit.layout]
        elif unit.layout is None and unit.payload_bytes is not None:
            streams[name] = plain_layout(plain_name(unit.payload_bytes), unit.payload_bytes)
    return View(
        file=file,
        profile=file.profile() if file.radio.profile in PROFILES else None,
        layouts=layouts,
        streams=streams,
        layout_problems=problems,
    )


def unknown(path: Path, noun: str, word: str, known: Collection[str]) -> Iterator[Found]:
    """A problem unless the word is known; the known ones are listed."""
    if word not in known:
        yield path, f"must be {noun} ({listed(known)}), got {shown(word)}{nearest(word, known)}"


MOST_TRANSMITTERS = 6
"""Largest number of transmitters: the receiver's radio has as many pipes (PS registers)."""

_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_-]{0,39}")
_PLAIN = re.compile(r"plain_\d+")
_RESERVED = ("receiver", "air")
_TABLES = ("layout", "transmitter", "output", "interferer")


def name_problems(view: View) -> Iterator[Found]:
    """Names that cannot be used, and more or fewer transmitters than a receiver can hear."""
    file = view.file
    if not file.title.isprintable():
        yield ("title",), f"must be one line of printable text, got {shown(file.title)}"
    for table in _TABLES:
        for name in getattr(file, table):
            if not _NAME.fullmatch(name):
                yield (
                    (table, name),
                    "must be a name of at most 40 letters, digits, _ and -, begun by a letter or "
                    f"_, got {shown(name)}",
                )
    for name in file.transmitter:
        if name in _RESERVED:
            yield ("transmitter", name), f"must not be named {name!r}: faults use it for another"
    for name in file.layout:
        if _PLAIN.fullmatch(name):
            yield ("layout", name), f"must not be named {name!r}: it stands for payload_bytes"
    count = len(file.transmitter)
    if not 1 <= count <= MOST_TRANSMITTERS:
        yield ("transmitter",), f"must be 1 to {MOST_TRANSMITTERS} transmitters, got {count}"
