"""The journal of a study: rows of its points on disk, so that a stopped study goes on.

The first line tells which study it is. Each row carries a hash of itself and of the study: one that
does not fit, because it was cut off, damaged or edited, is as if it had never been.
"""

import hashlib
import json
import os
import warnings
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import msgspec

from radiosim.counted import counted
from radiosim.errors import Notice, RadiosimError
from radiosim.scenario import Scenario
from radiosim.version import VERSION
from radiosim.whole_files import put_all

Row = Mapping[str, Any]
LARGEST_BYTES = 1_000_000_000
_FORMAT = "radiosim journal 2"
_BEGINNING = json.dumps({"format": _FORMAT}).encode()[:-1]
"""What every journal begins with."""


class JournalError(RadiosimError):
    """A journal that cannot be gone on with, or not be written."""


class JournalWarning(Notice):
    """Some rows of a journal were not as its study wrote them."""


def digest_of(what: str, scenario: Scenario, *settings: object) -> str:
    """What tells one study from another: its kind, scenario, settings, and our version."""
    digest = hashlib.sha256(json.dumps([VERSION, what]).encode())
    for part in (scenario, settings):
        digest.update(msgspec.json.encode(part))
    return digest.hexdigest()[:32]


def text_of(row: Row) -> str:
    """A row as text: keys in order, so that equal rows are equal texts."""
    return json.dumps(row, allow_nan=False, sort_keys=True)


@dataclass(slots=True)
class Journal:
    """A journal that rows are added to."""

    path: Path
    rows: dict[int, Row]
    """Rows of the points that were done before, by number."""
    _digest: str
    _stream: IO[bytes]

    def add(self, point: int, row: Row) -> None:
        """Keep the row of a point: it is on disk when this returns. JournalError if it cannot."""
        try:
            self._stream.write(_line(self._digest, point, row))
            self._stream.flush()
            os.fsync(self._stream.fileno())
        except OSError as error:
            raise JournalError(
                f"{self.path}: cannot be written: {error.strerror or error}; what is in it stays, "
                f"and --resume {self.path} goes on from there"
            ) from None
        self.rows[point] = row

    def close(self) -> None:
        """No more rows."""
        # What could not be written was told; it is tried again here, and must not hide that.
        with suppress(OSError):
            self._stream.close()


def open_journal(path: Path, digest: str, points: int) -> Journal:
    """A journal to go on with, or a new one.

    JournalError for a file that is another study's, or none at all; JournalWarning once for rows
    that are not as this study wrote them.
    """
    rows, refused = _read(path, digest, points) if path.exists() else ({}, 0)
    head = {"format": _FORMAT, "study": digest, "points": points}
    lines = [json.dumps(head, sort_keys=True).encode() + b"\n"]
    lines += [_line(digest, point, row) for point, row in rows.items()]
    try:
        # What does not fit, or was cut off in the middle of a line, must not stay.
        put_all({path: b"".join(lines)})
        stream = path.open("ab")
    except OSError as error:
        raise JournalError(f"{path}: must be writable: {error.strerror or error}") from None
    if refused:
        were = (
            "was damaged or changed, and is" if refused == 1 else "were damaged or changed, and are"
        )
        text = f"{path}: {counted(refused, 'row')} {were} worked out again"
        warnings.warn(text, JournalWarning, stacklevel=2)
    return Journal(path, rows, digest, stream)


def _read(path: Path, digest: str, points: int) -> tuple[dict[int, Row], int]:
    """Rows of a journal by point, and how many of its whole lines are none."""
    try:
        if not path.is_file() or path.stat().st_size > LARGEST_BYTES:
            raise JournalError(f"{path}: must be a journal of a study, got something else")
        raw = path.read_bytes()
    except OSError as error:
        raise JournalError(f"{path}: cannot be read: {error.strerror or error}") from None
    head, *lines = raw.split(b"\n")
    if not raw or (not lines and _is_cut_off(head)):
        return {}, 0
    said = _decoded(head)
    if not isinstance(said, dict) or said.get("format") != _FORMAT:
        raise JournalError(f"{path}: must be a journal of a study, got something else")
    if said.get("study") != digest:
        raise JournalError(
            f"{path}: must be this study's journal, got another's (scenario, settings, points or "
            "version differ)"
        )
    found = [_row_of(line, digest, points) for line in lines[:-1]]
    rows = dict(one for one in found if one is not None)
    return rows, found.count(None)


def _is_cut_off(head: bytes) -> bool:
    """Whether a first line is the beginning of a journal's, of whatever study: no row is lost."""
    return head.startswith(_BEGINNING) or _BEGINNING.startswith(head)


def _line(digest: str, point: int, row: Row) -> bytes:
    """A point's row as it stands in the file of a study."""
    text = text_of({"point": point, "row": row})
    return f"{_checksum(digest, text)} {text}\n".encode()


def _checksum(digest: str, text: str) -> str:
    return hashlib.sha256(f"{digest} {text}".encode()).hexdigest()[:32]


def _row_of(line: bytes, digest: str, points: int) -> tuple[int, Row] | None:
    """Point and row of a line; None for one that is not as this study wrote it."""
    checksum, _, text = line.partition(b" ")
    if checksum.decode("ascii", "replace") != _checksum(digest, text.decode("utf-8", "replace")):
        return None
    found = _decoded(text)
    point, row = found["point"], found["row"]
    return (point, row) if 0 <= point < points else None


def _decoded(line: bytes) -> Any:
    """What a line says in JSON; None for one that says nothing."""
    try:
        return json.loads(line)
    except (ValueError, RecursionError):
        return None
