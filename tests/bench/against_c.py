"""The compiled loop against the same loop written by hand in C (plain_pair.c)."""

import ctypes
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from itertools import zip_longest
from pathlib import Path
from typing import Any

import numpy as np

from radiosim.engine import fast
from radiosim.engine.plan import Plan
from radiosim.trace import DTYPES, Table

SOURCE = Path(__file__).parent / "plain_pair.c"
NAMES = ("attempts", "frames", "reads", "passes")
END, TABLE_FULL = range(2)
_TRANSMITTER = (
    *("period_ns", "offset_ns", "ppb", "upload_ns", "settle_ns", "frame_ns", "address_ns"),
    *("loss_53", "key_low", "key_high", "reading_ns"),
)


class _Tx(ctypes.Structure):
    _fields_ = [*((name, ctypes.c_int64) for name in _TRANSMITTER), ("power_mw", ctypes.c_double)]


class _Rx(ctypes.Structure):
    _fields_ = [
        ("pass_ns", ctypes.c_int64),
        ("interrupt_ns", ctypes.c_int64),
        ("cochannel_ratio", ctypes.c_double),
    ]


class HandWritten:
    """The loop in C for one plan of plain transmitters."""

    def __init__(self, plan: Plan, folder: Path) -> None:
        self._library = _built(folder)
        self._plan = plan
        self._tx = (_Tx * len(plan.tx))(*(_of(_Tx, tx) for tx in plan.tx))
        self._rx = _of(_Rx, plan.rx)
        self._steps = np.array([(s.at_ns, s.unit, s.kind) for s in plan.steps], np.int64)

    def chunks(self) -> Iterator[dict[str, Table]]:
        """Its rows, as `fast.chunks` gives them; a chunk is overwritten by the next."""
        library, plan = self._library, self._plan
        world = library.new_run(
            ctypes.c_int64(len(plan.tx)),
            ctypes.c_int64(plan.until_ns),
            self._tx,
            ctypes.byref(self._rx),
            self._steps.ctypes.data_as(ctypes.c_void_p),
            ctypes.c_int64(len(self._steps)),
        )
        counts = _view(library.row_counts(world), np.dtype("i8"), len(NAMES))
        tables = [
            _view(library.table(world, which), DTYPES[name], 1_088)
            for which, name in enumerate(NAMES)
        ]
        why = TABLE_FULL
        while why != END:
            why = library.advance(world)
            if why not in (END, TABLE_FULL):
                raise ValueError("the loop in C knows no faults")
            if why == END:
                library.close_run(world)
            yield {name: tables[k][: counts[k]] for k, name in enumerate(NAMES)}
            counts[:] = 0
        library.end_run(world)


def hand_written(plan: Plan) -> HandWritten | None:
    """The loop in C, built here; None where there is no gcc."""
    if shutil.which("gcc") is None:
        return None
    return HandWritten(plan, Path(tempfile.mkdtemp()))


def check_rows(plan: Plan, by_hand: HandWritten) -> None:
    """SystemExit unless both loops write the same rows."""
    for name in NAMES:
        ours, theirs = (_rows(chunks, name) for chunks in (fast.chunks(plan), by_hand.chunks()))
        for number, (one, other) in enumerate(zip_longest(ours, theirs)):
            if one != other:
                raise SystemExit(f"the loops differ in {name}, row {number}: {one} and {other}")


def _rows(chunks: Iterator[dict[str, Table]], name: str) -> Iterator[Any]:
    for chunk in chunks:
        yield from chunk[name].tolist()


def _of(structure: Any, row: Any) -> Any:
    return structure(*(getattr(row, name) for name, _ in structure._fields_))


def _view(address: int, dtype: np.dtype[Any], length: int) -> Any:
    raw = (ctypes.c_char * (dtype.itemsize * length)).from_address(address)
    return np.frombuffer(raw, dtype)


def _built(folder: Path) -> Any:
    target = folder / "plain_pair.so"
    command = ["gcc", "-O3", "-Wall", "-Wextra", "-shared", "-fPIC", str(SOURCE), "-o", str(target)]
    subprocess.run(command, check=True)
    library = ctypes.CDLL(str(target))
    for name in ("new_run", "table", "row_counts"):
        getattr(library, name).restype = ctypes.c_void_p
    library.advance.restype = ctypes.c_int64
    for name in ("advance", "close_run", "end_run", "row_counts"):
        getattr(library, name).argtypes = [ctypes.c_void_p]
    library.table.argtypes = [ctypes.c_void_p, ctypes.c_int64]
    return library
