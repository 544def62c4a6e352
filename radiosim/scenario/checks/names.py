"""Names of tables: they become parts of result paths, so that they must be plain words."""

import re
from collections.abc import Iterator

from radiosim.scenario.checks.view import Found, View
from radiosim.scenario.problems import shown

MOST_TRANSMITTERS = 6
"""As many as the receiver's radio has pipes (PS registers)."""

_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_-]{0,39}")
_PLAIN = re.compile(r"plain_\d+")
_RESERVED = ("receiver", "air")
_TABLES = ("layout", "transmitter", "output", "interferer")


def problems(view: View) -> Iterator[Found]:
    """Names that cannot be used, and more or fewer transmitters than a receiver can hear."""
    file = view.file
    if not file.title.isprintable():
        yield ("title",), f"must be one line of printable text, got {shown(file.title)}"
    for table in _TABLES:
        for name in getattr(file, table):
            if not _NAME.fullmatch(name):
                yield (
                    (table, name),
                    "must be a name of at most 40 letters, digits, _ and -, not begun by a digit, "
                    f"got {shown(name)}",
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
