"""A saved trace: one compressed file with the scenario and every table, read back as it was."""

import io
import math
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping
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
    FIRST_NOISE,
    AcknowledgementFate,
    Fate,
    Outcome,
    ReadOutcome,
    Table,
    Trace,
)
from radiosim.units import ns_from_s
from radiosim.whole_files import put_all

FORMAT = 2
LARGEST_BYTES = 1_000_000_000
"""Size, packed and unpacked together, above which a file is refused unread."""
_LATEST_NS = 1 << 62
_TABLES = {**DTYPES, "brownouts": BROWNOUTS}
"""Columns of every table of the file."""
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    KeyError,
    MemoryError,
    OverflowError,
    RuntimeError,
    ValueError,
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
        put_all({path: content.getvalue()})
    except OSError as error:
        raise TraceError(f"{path}: cannot be written: {error.strerror}") from None


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
            members = _members(archive, path)
            return _trace({name: _array(archive, members[name]) for name in _NAMES})
    except OSError as error:
        raise TraceError(f"{path}: cannot be read: {error.strerror or error}") from None
    except _DAMAGED as error:
        raise TraceError(f"{path}: is damaged, or not a saved trace: {error}") from None


_NAMES = ("head", "scenario", *_TABLES)
_MOST_PACKED, _ALWAYS_BYTES = 50, 1_000_000
"""How many times smaller a part may be than its content, whatever is short let alone: rows of a
link pack five to one."""


def _members(archive: zipfile.ZipFile, path: Path) -> dict[str, zipfile.ZipInfo]:
    """The parts of a trace, judged by what the archive says of them; nothing is unpacked yet."""
    names = {f"{name}.npy": name for name in _NAMES}
    found = [member for member in archive.infolist() if member.filename in names]
    size = path.stat().st_size + sum(member.file_size for member in found)
    if size > LARGEST_BYTES:
        raise TraceError(
            f"{path}: must be at most {LARGEST_BYTES:,} bytes, packed and unpacked, got {size:,}"
        )
    if sorted(member.filename for member in found) != sorted(names):
        raise ValueError("parts are missing, or there twice")
    for member in found:
        if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise ValueError(f"{member.filename} is packed in another way")
        if member.file_size > _ALWAYS_BYTES + _MOST_PACKED * member.compress_size:
            raise ValueError(f"{member.filename} would be {member.file_size:,} bytes unpacked")
    if sum(member.compress_size for member in found) > path.stat().st_size:
        raise ValueError("its parts are longer than it is")
    return {names[member.filename]: member for member in found}


_HEADER = re.compile(
    rb"\{'descr': '(?P<kind><i8|\|u1)', 'fortran_order': False, "
    rb"'shape': \((?P<rows>\d{1,12}),(?: (?P<columns>\d{1,3}))?\), \} *\n"
)
_MAGIC = b"\x93NUMPY\x01\x00"
_LONGEST_HEADER = 1000


def _array(archive: zipfile.ZipFile, member: zipfile.ZipInfo) -> npt.NDArray[Any]:
    """An array as it was saved; ValueError for a header that numpy would not write of ours."""
    with archive.open(member) as stream:
        start = stream.read(len(_MAGIC) + 2)
        length = int.from_bytes(start[len(_MAGIC) :], "little")
        if not start.startswith(_MAGIC) or length > _LONGEST_HEADER:
            raise ValueError(f"{member.filename} is no array of ours")
        header = _HEADER.fullmatch(stream.read(length))
        if header is None:
            raise ValueError(f"{member.filename} is no array of ours")
        shape = tuple(int(size) for size in header.group("rows", "columns") if size is not None)
        kind = np.dtype(header["kind"].decode())
        content = stream.read()
    if len(content) != math.prod(shape) * kind.itemsize:
        raise ValueError(f"{member.filename} is longer or shorter than it says")
    return np.frombuffer(content, kind).reshape(shape)


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
    for word in (head.engine, head.version):
        if not _WORD.fullmatch(word):
            raise ValueError("its engine or version is none")
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


_WORD = re.compile(r"[0-9A-Za-z][0-9A-Za-z.+_ -]{0,40}")
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
        np.isin(rows["frame"], numbers).all()
        for rows in (attempts, _not_noise(acknowledgements), _not_noise(reads))
    ):
        return False
    tried, open_ones = np.zeros_like(numbers), np.zeros_like(numbers)
    np.maximum.at(tried, frames["frame"], frames["attempts"])
    open_ones[frames["frame"][frames["outcome"] == Outcome.UNDER_WAY]] = 1
    missing = tried - np.bincount(attempts["frame"], minlength=len(numbers))
    return bool(((missing >= 0) & (missing <= open_ones)).all())


def _not_noise(rows: Table) -> Table:
    """Rows of frames that a transmitter sampled."""
    kept: Table = rows[rows["frame"] > FIRST_NOISE]
    return kept


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
