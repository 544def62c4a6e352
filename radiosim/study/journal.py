"""The journal of a study: rows of its points on disk, so that a stopped study goes on.

The first line tells which study it is; a line that was cut off as the machine went down is as if
it had never been.
"""

import hashlib
import json
import os
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import msgspec

from radiosim.errors import RadiosimError
from radiosim.scenario import Scenario
from radiosim.version import VERSION

Row = Mapping[str, Any]
LARGEST_BYTES = 1_000_000_000
_FORMAT = "radiosim journal 1"
_BEGINNING = json.dumps({"format": _FORMAT}).encode()[:-1]
"""What every journal begins with."""


class JournalError(RadiosimError):
    """A journal that cannot be gone on with, or not be written."""


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
    _stream: IO[bytes]

    def add(self, point: int, row: Row) -> None:
        """Keep the row of a point: it is on disk when this returns. JournalError if it cannot."""
        line = text_of({"point": point, "row": row})
        try:
            self._stream.write(line.encode() + b"\n")
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

    JournalError for a file that is another study's, or none at all.
    """
    rows, kept_bytes = _read(path, digest, points) if path.exists() else ({}, 0)
    try:
        stream = path.open("r+b" if kept_bytes else "wb")
        stream.seek(kept_bytes)
        # What was cut off in the middle of a line must not stay before the next one.
        stream.truncate()
        if not kept_bytes:
            head = {"format": _FORMAT, "study": digest, "points": points}
            stream.write(json.dumps(head, sort_keys=True).encode() + b"\n")
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as error:
        raise JournalError(f"{path}: must be writable: {error.strerror or error}") from None
    return Journal(path, rows, stream)


def _read(path: Path, digest: str, points: int) -> tuple[dict[int, Row], int]:
    """Rows of a journal by point, and how many bytes of it are whole lines."""
    try:
        if not path.is_file() or path.stat().st_size > LARGEST_BYTES:
            raise JournalError(f"{path}: must be a journal of a study, got something else")
        raw = path.read_bytes()
    except OSError as error:
        raise JournalError(f"{path}: cannot be read: {error.strerror or error}") from None
    head, *lines = raw.splitlines(keepends=True) or [b""]
    if not raw or _is_cut_off(head):
        return {}, 0
    if _format_of(head) != _FORMAT:
        raise JournalError(f"{path}: must be a journal of a study, got something else")
    if json.loads(head).get("study") != digest:
        raise JournalError(
            f"{path}: must be this study's journal, got another's (scenario, settings, points or "
            "version differ)"
        )
    rows: dict[int, Row] = {}
    kept = len(head)
    for line in lines:
        found = _row_of(line, points)
        if found is None:
            break
        rows[found[0]] = found[1]
        kept += len(line)
    return rows, kept


def _is_cut_off(head: bytes) -> bool:
    """Whether a first line is the beginning of a journal's, of whatever study: no row is lost."""
    is_ours = head.startswith(_BEGINNING) or _BEGINNING.startswith(head)
    return is_ours and not head.endswith(b"\n")


def _format_of(line: bytes) -> str:
    try:
        head = json.loads(line)
    except ValueError:
        return ""
    return str(head.get("format", "")) if isinstance(head, dict) else ""


def _row_of(line: bytes, points: int) -> tuple[int, Row] | None:
    """Point and row of a whole line; None for one that was cut off."""
    if not line.endswith(b"\n"):
        return None
    try:
        found = json.loads(line)
        point, row = found["point"], found["row"]
    except (ValueError, KeyError, TypeError):
        return None
    is_sound = isinstance(point, int) and 0 <= point < points and isinstance(row, dict)
    return (point, row) if is_sound else None
