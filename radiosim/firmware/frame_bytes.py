"""The bytes of many frames at once, equal to those that the codec packs one by one."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from radiosim.engine.jit import JitBackend, Rows
from radiosim.engine.payload import Payload
from radiosim.engine.plan import Plan
from radiosim.layout import Field, Layout
from radiosim.layout.layout import bits_of
from radiosim.signals.course import Points
from radiosim.vehicle.fold.values import FieldState, sent_number
from radiosim.vehicle.program_fold import COUNTS, set_field
from radiosim.vehicle.program_fold import Points as PointList

MOST_BYTES = 32
"""Of a frame's payload (rule B7)."""
Bytes = npt.NDArray[np.uint8]
Instants = npt.NDArray[np.int64]


def number_rows(
    fields: "list[FieldState]", points: Points, frames: Any, instants: Any, out: Any
) -> None:
    """The number on the wire of each field in each frame, frame by frame."""
    count = len(fields)
    for row in range(len(frames)):
        for k in range(count):
            out[row * count + k] = sent_number(fields[k], points, frames[row], instants[row])


@dataclass(frozen=True, slots=True)
class _Stream:
    layout: Layout
    fields: Rows
    points: Any


class FrameBytes:
    """Frames of one start's streams as bytes."""

    def __init__(self, plan: Plan, backend: JitBackend) -> None:
        self._backend = backend
        self._fold = backend.entry(number_rows)
        self._streams = [self._of(payload) for payload in plan.payloads]

    def pack(self, stream: int, values_frame: Instants, values_ns: Instants) -> Bytes:
        """A row of 32 bytes a frame; those beyond the layout's are 0.

        `values_frame`, `values_ns`: as rows of a trace have them.
        """
        of = self._streams[stream]
        numbers = self._numbers(of, values_frame, values_ns)
        bits = np.zeros((len(values_frame), 8 * MOST_BYTES), np.uint8)
        for k, field in enumerate(of.layout.fields):
            places = list(bits_of(field, of.layout.byte_order))
            bits[:, places] = _bits(field, numbers[:, k])
        return np.packbits(bits, axis=1, bitorder="little")

    def _numbers(
        self, of: _Stream, values_frame: Instants, values_ns: Instants
    ) -> npt.NDArray[np.float64]:
        backend = self._backend
        count = len(of.layout.fields)
        out = np.zeros(len(values_frame) * count)
        frames, instants = (
            backend.numbers(np.ascontiguousarray(column)) for column in (values_frame, values_ns)
        )
        self._fold(of.fields, of.points, frames, instants, out)
        return out.reshape(-1, count)

    def _of(self, payload: Payload) -> _Stream:
        backend, points = self._backend, PointList()
        rows = backend.records(FieldState, len(payload.layout.fields), COUNTS)
        for k, row in enumerate(rows):
            set_field(backend, row, payload, k, points)
        return _Stream(payload.layout, rows, points.table(backend))


def _bits(field: Field, numbers: npt.NDArray[np.float64]) -> Bytes:
    """Bits of a field's number in each frame, the lowest first."""
    if field.kind == "float":
        wide = numbers.astype(np.float32 if field.bits == 32 else np.float64)
        whole = wide.view(np.uint32 if field.bits == 32 else np.uint64).astype(np.uint64)
    elif field.kind == "signed":
        whole = numbers.astype(np.int64).view(np.uint64)
    else:
        whole = numbers.astype(np.uint64)
    shifts = np.arange(field.bits, dtype=np.uint64)
    return ((whole[:, None] >> shifts) & np.uint64(1)).astype(np.uint8)
