"""Points of a study, run on any executor and kept on disk, so that a stopped study goes on.

The first line tells which study it is; a line that was cut off as the machine went down is as if
it had never been.
"""

import hashlib
import json
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, wait
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, TypeVar

import msgspec

from radiosim.errors import RadiosimError
from radiosim.scenario import Scenario
from radiosim.study.starts import WorkersError, pool_of
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


P = TypeVar("P")
OnProgress = Callable[[int, int], None]
_AHEAD = 4
"""Points handed out for each worker before one is done: enough to keep them busy."""
_MOST_LOSSES = 3
"""Times in a row that processes may be lost before a single point is done."""


def run_points(
    work: Callable[[P], Row],
    points: Sequence[P],
    *,
    digest: str,
    journal: Path | None = None,
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> tuple[Row, ...]:
    """The row of every point, in their order, whatever order they were done in.

    `work` is a pure function that can be pickled; its rows are what JSON can hold. With a
    `journal` each row is on disk as soon as it is there, and those that are in it already are not
    worked out again. Without an executor: processes of this machine, none for one worker; the
    points under way in one that is lost are worked out again. WorkersError if all are lost.
    """
    kept = None if journal is None else open_journal(journal, digest, len(points))
    rows: dict[int, Row] = {} if kept is None else dict(kept.rows)
    todo = [number for number in range(len(points)) if number not in rows]
    if on_progress is not None:
        on_progress(len(rows), len(points))
    try:
        for number, row in _done(work, points, todo, executor, workers):
            if kept is not None:
                kept.add(number, row)
            # Through the text that a row is read from again: both must be alike.
            rows[number] = json.loads(text_of(row))
            if on_progress is not None:
                on_progress(len(rows), len(points))
    finally:
        if kept is not None:
            kept.close()
    return tuple(rows[number] for number in range(len(points)))


def _done(
    work: Callable[[P], Row],
    points: Sequence[P],
    todo: Sequence[int],
    executor: Executor | None,
    workers: int | None,
) -> Iterator[tuple[int, Row]]:
    wanted = min(workers or os.cpu_count() or 1, max(1, len(todo)))
    if executor is not None:
        yield from _as_they_come(executor, work, points, todo, _AHEAD * 64)
    elif wanted == 1:
        yield from ((number, work(points[number])) for number in todo)
    else:
        # Done here, so that forked processes find loaded and compiled whatever a point needs.
        yield todo[0], work(points[todo[0]])
        yield from _in_processes(work, points, todo[1:], wanted)


def _in_processes(
    work: Callable[[P], Row], points: Sequence[P], todo: Sequence[int], wanted: int
) -> Iterator[tuple[int, Row]]:
    """Rows from a pool; one that broke is replaced, and does what is still to do."""
    left, losses = dict.fromkeys(todo), 0
    while left:
        try:
            with pool_of(wanted) as pool:
                for number, row in _as_they_come(pool, work, points, tuple(left), _AHEAD * wanted):
                    del left[number]
                    losses = 0
                    yield number, row
        except WorkersError:
            losses += 1
            if losses == _MOST_LOSSES:
                raise


def _as_they_come(
    executor: Executor,
    work: Callable[[P], Row],
    points: Sequence[P],
    todo: Sequence[int],
    most: int,
) -> Iterator[tuple[int, Row]]:
    """Rows as they are done; no more points are handed out than keep the workers busy."""
    waiting: dict[Future[Row], int] = {}
    left = iter(todo)
    while True:
        while len(waiting) < most and (number := next(left, None)) is not None:
            waiting[_handed_out(executor, work, points[number])] = number
        if not waiting:
            return
        finished, _ = wait(waiting, return_when=FIRST_COMPLETED)
        for future in finished:
            yield waiting.pop(future), future.result()


def _handed_out(executor: Executor, work: Callable[[P], Row], point: P) -> Future[Row]:
    try:
        return executor.submit(work, point)
    except OSError as error:
        # Processes are being given up at this moment, and the way to them is closed already.
        raise BrokenExecutor(str(error)) from error
