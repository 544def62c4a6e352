"""A saved trace: one compressed file with the scene and every table, read back as it was."""

import io
import json
import os
import zipfile
from pathlib import Path

import msgspec
import numpy as np

from radiosim.errors import TraceError
from radiosim.scenario import Scenario
from radiosim.trace import DTYPES, Table, Trace

FORMAT = 1
LARGEST_BYTES = 2_000_000_000
"""Unpacked size above which a file is refused unread."""


def save(trace: Trace, path: Path) -> None:
    """Write a trace, whole or not at all; TraceError if the place cannot be written."""
    head = {
        "format": FORMAT,
        "seed": trace.seed,
        "start": trace.start,
        "duration_ns": trace.duration_ns,
        "engine": trace.engine,
        "version": trace.version,
    }
    scenario = msgspec.json.encode(trace.scenario)
    beside = path.with_name(f".{path.name}.part")
    try:
        with beside.open("wb") as file:
            np.savez_compressed(
                file,
                head=np.frombuffer(json.dumps(head).encode(), np.uint8),
                scenario=np.frombuffer(scenario, np.uint8),
                **{name: _columns(getattr(trace, name)) for name in DTYPES},
            )
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
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
            size = sum(member.file_size for member in archive.infolist())
        if size > LARGEST_BYTES:
            raise TraceError(f"{path}: must unpack to at most {LARGEST_BYTES} bytes, got {size}")
        with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as arrays:
            return _trace({name: arrays[name] for name in (*DTYPES, "head", "scenario")})
    except OSError as error:
        raise TraceError(f"{path}: cannot be read: {error.strerror}") from None
    except (zipfile.BadZipFile, KeyError, ValueError, EOFError, msgspec.MsgspecError) as error:
        raise TraceError(f"{path}: is not a saved trace of this version: {error}") from None


def _columns(table: Table) -> np.ndarray[tuple[int, int], np.dtype[np.int64]]:
    """A table as a plain two-dimensional array, rows first."""
    return table.view(np.int64).reshape(len(table), len(table.dtype.names or ()))


def _trace(arrays: dict[str, np.ndarray[tuple[int, ...], np.dtype[np.int64]]]) -> Trace:
    head = json.loads(arrays["head"].tobytes())
    if head.pop("format") != FORMAT:
        raise ValueError("another format")
    tables: dict[str, Table] = {}
    for name, dtype in DTYPES.items():
        columns = np.ascontiguousarray(arrays[name], np.int64)
        if columns.ndim != 2 or columns.shape[1] != len(dtype):
            raise ValueError(f"table {name} has other columns")
        table = columns.view(dtype).reshape(len(columns))
        table.flags.writeable = False
        tables[name] = table
    scenario = msgspec.json.decode(arrays["scenario"].tobytes(), type=Scenario)
    return Trace(scenario=scenario, **head, **tables)
