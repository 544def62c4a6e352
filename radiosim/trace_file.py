"""A saved trace: one compressed file with the scenario and every table, read back as it was."""

import io
import os
import tokenize
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import numpy.typing as npt

from radiosim.errors import TraceError
from radiosim.scenario import Scenario
from radiosim.scenario.changed import problems_of_scenario
from radiosim.scenario.key_paths import path_text
from radiosim.trace import (
    BROWNOUTS,
    DTYPES,
    AcknowledgementFate,
    Fate,
    Outcome,
    ReadOutcome,
    Table,
    Trace,
)
from radiosim.units import ns_from_s

FORMAT = 2
LARGEST_BYTES = 2_000_000_000
"""Size, packed and unpacked together, above which a file is refused unread."""
_LATEST_NS = 1 << 62
_TABLES = {**DTYPES, "brownouts": BROWNOUTS}
"""Columns of every table of the file."""
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    KeyError,
    MemoryError,
    RuntimeError,
    SyntaxError,
    ValueError,
    tokenize.TokenError,
    msgspec.MsgspecError,
)
"""What reading raises on a file that is no trace, or a damaged one."""


class _Head(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a trace says beside its scenario and its tables."""

    format: int
    seed: int
    start: int
    duration_ns: int
    engine: str
    version: str


def save(trace: Trace, path: Path) -> None:
    """Write a trace, whole or not at all; TraceError if the place cannot be written.

    What is no plain file, such as a pipe or a device, is written to directly.
    """
    head = _Head(
        format=FORMAT,
        seed=trace.seed,
        start=trace.start,
        duration_ns=trace.duration_ns,
        engine=trace.engine,
        version=trace.version,
    )
    arrays: dict[str, Any] = {name: _columns(getattr(trace, name)) for name in _TABLES}
    arrays["head"] = np.frombuffer(msgspec.json.encode(head), np.uint8)
    arrays["scenario"] = np.frombuffer(msgspec.json.encode(trace.scenario), np.uint8)
    content = io.BytesIO()
    np.savez_compressed(content, **arrays)
    try:
        _write(path.resolve(), content.getbuffer())
    except OSError as error:
        raise TraceError(f"{path}: cannot be written: {error.strerror}") from None


def _write(path: Path, content: memoryview) -> None:
    """Put a file in its place whole; a pipe or a device is written to, never replaced."""
    if path.exists() and not path.is_file() and not path.is_dir():
        path.write_bytes(content)
        return
    beside = path.with_name(f".{path.name}.part")
    try:
        with beside.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    finally:
        with suppress(OSError):
            beside.unlink()


def is_trace(path: Path) -> bool:
    """Whether a file looks like a saved trace."""
    try:
        return zipfile.is_zipfile(path)
    except OSError:
        return False


def load(path: Path) -> Trace:
    """Read a trace back; TraceError if the file is not one, or too large."""
    try:
        with zipfile.ZipFile(path) as archive:
            size = path.stat().st_size + sum(member.file_size for member in archive.infolist())
        if size > LARGEST_BYTES:
            raise TraceError(
                f"{path}: must be at most {LARGEST_BYTES:,} bytes, packed and unpacked, "
                f"got {size:,}"
            )
        with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as arrays:
            return _trace({name: arrays[name] for name in (*_TABLES, "head", "scenario")})
    except OSError as error:
        raise TraceError(f"{path}: cannot be read: {error.strerror}") from None
    except _DAMAGED as error:
        raise TraceError(f"{path}: is damaged, or not a saved trace: {error}") from None


def _columns(table: Table) -> npt.NDArray[np.int64]:
    """A table as a plain two-dimensional array, rows first."""
    return table.view(np.int64).reshape(len(table), len(table.dtype.fields or ()))


def _table(name: str, columns: npt.NDArray[np.int64]) -> Table:
    """A table from its columns; ValueError if they are others."""
    dtype = _TABLES[name]
    if columns.dtype != np.int64 or columns.ndim != 2 or columns.shape[1] * 8 != dtype.itemsize:
        raise ValueError(f"table {name} has other columns")
    table: Table = np.ascontiguousarray(columns).view(dtype).reshape(len(columns))
    table.flags.writeable = False
    return table


def _trace(arrays: Mapping[str, npt.NDArray[Any]]) -> Trace:
    head = msgspec.json.decode(arrays["head"].tobytes(), type=_Head)
    if head.format != FORMAT:
        raise ValueError(f"format {head.format}")
    tables = {name: _table(name, arrays[name]) for name in _TABLES}
    scenario = msgspec.json.decode(arrays["scenario"].tobytes(), type=Scenario)
    _check(head, scenario, tables)
    return Trace(
        scenario=scenario,
        seed=head.seed,
        start=head.start,
        duration_ns=head.duration_ns,
        engine=head.engine,
        version=head.version,
        attempts=tables["attempts"],
        acknowledgements=tables["acknowledgements"],
        frames=tables["frames"],
        reads=tables["reads"],
        passes=tables["passes"],
        brownouts=tables["brownouts"],
    )


_CHOICES = {
    "attempts": ("fate", len(Fate)),
    "acknowledgements": ("fate", len(AcknowledgementFate)),
    "frames": ("outcome", len(Outcome)),
    "reads": ("outcome", len(ReadOutcome)),
}


def _check(head: _Head, scenario: Scenario, tables: Mapping[str, Table]) -> None:
    """ValueError where tables do not fit each other or the scenario."""
    for path, text in problems_of_scenario(scenario):
        raise ValueError(f"its scenario: {path_text(path)}: {text}")
    if head.seed != scenario.seed or not 0 <= head.start < 1 << 63:
        raise ValueError("its seed or start is not that of its scenario")
    if head.duration_ns != ns_from_s(scenario.duration_s):
        raise ValueError("it does not last as long as its scenario")
    for name, table in tables.items():
        for values, most in _bounds(name, table, head, scenario):
            if len(values) and not 0 <= values.min() <= values.max() <= most:
                raise ValueError(f"table {name} holds what cannot be")
    reads = tables["reads"]["outcome"]
    seen = int(np.isin(reads, (ReadOutcome.READ, ReadOutcome.THROWN_AWAY)).sum())
    if seen != int(tables["passes"]["frames"].sum()) or (tables["passes"]["frames"] < 1).any():
        raise ValueError("its passes read other frames than its reads say")
    for stream in range(len(scenario.transmitter)):
        mine = {name: tables[name][tables[name]["stream"] == stream] for name in _CHOICES}
        if not _is_complete(**mine):
            raise ValueError("its frames are other ones than those on the air and read")


def _is_complete(attempts: Table, acknowledgements: Table, frames: Table, reads: Table) -> bool:
    """Whether a stream's frames are numbered without a gap and went on the air as they say.

    What is under way at the end counts an attempt that has no row yet.
    """
    numbers = np.unique(frames["frame"])
    if not np.array_equal(numbers, np.arange(len(numbers))):
        return False
    if not all(
        np.isin(read["frame"], numbers).all() for read in (attempts, acknowledgements, reads)
    ):
        return False
    tried, open_ones = np.zeros_like(numbers), np.zeros_like(numbers)
    np.maximum.at(tried, frames["frame"], frames["attempts"])
    open_ones[frames["frame"][frames["outcome"] == Outcome.UNDER_WAY]] = 1
    missing = tried - np.bincount(attempts["frame"], minlength=len(numbers))
    return bool(((missing >= 0) & (missing <= open_ones)).all())


def _bounds(
    name: str, table: Table, head: _Head, scenario: Scenario
) -> Iterator[tuple[npt.NDArray[np.int64], int]]:
    """Columns that must be at least 0, each with the most that it may hold."""
    if name in _CHOICES:
        column, count = _CHOICES[name]
        yield table[column], count - 1
        yield table["stream"], len(scenario.transmitter) - 1
    if name == "brownouts":
        yield table["outputs"], (1 << len(scenario.output)) - 1
    for column in _TABLES[name].names or ():
        if column.endswith("_ns"):
            # A pass under way at the end is over later; a frame heard just before the end stands in
            # the FIFO later.
            is_open = column in ("next_ns", "accepted_ns")
            yield table[column], _LATEST_NS if is_open else head.duration_ns
