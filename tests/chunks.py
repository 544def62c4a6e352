"""A kept start cut into chunks, and tallies compared."""

import dataclasses
from collections.abc import Iterator, Sequence
from enum import Enum
from itertools import pairwise
from typing import Any

import msgspec
import numpy as np

from radiosim.engine.simulate import Chunk, Flow, flow_of
from radiosim.trace import ROWS, Trace

_LOGGED = {
    "attempts": "end_ns",
    "acknowledgements": "end_ns",
    "frames": "done_ns",
    "reads": "read_ns",
}


def cut(trace: Trace, shares: Sequence[float]) -> Flow:
    """The rows of a trace in the order in which a loop writes them down, cut at some shares."""
    order = _order(trace)
    places = sorted(round(share * len(order)) for share in shares)
    bounds = [0, *places, len(order)]
    return dataclasses.replace(flow_of(trace), chunks=_chunks(trace, order, bounds))


def one_by_one(trace: Trace) -> Flow:
    """The rows of a trace, each a chunk of its own."""
    order = _order(trace)
    return dataclasses.replace(
        flow_of(trace), chunks=_chunks(trace, order, list(range(len(order) + 1)))
    )


def _order(trace: Trace) -> list[tuple[int, int]]:
    """(table, row) of every row; at one instant a pass stands behind its reads."""
    keys: list[tuple[int, int, int]] = []
    for table, name in enumerate(ROWS):
        instants = _pass_logged(trace) if name == "passes" else getattr(trace, name)[_LOGGED[name]]
        keys += [(at_ns, table, row) for row, at_ns in enumerate(instants.tolist())]
    return [(table, row) for _, table, row in sorted(keys)]


def _pass_logged(trace: Trace) -> Any:
    """No pass is written down before the last of its reads."""
    seen = trace.reads["read_ns"][trace.reads["outcome"] <= 1]
    return seen[np.cumsum(trace.passes["frames"]) - 1]


def _chunks(trace: Trace, order: list[tuple[int, int]], bounds: list[int]) -> Iterator[Chunk]:
    taken = dict.fromkeys(ROWS, 0)
    for first, last in pairwise(bounds):
        counts = dict.fromkeys(ROWS, 0)
        for table, _ in order[first:last]:
            counts[list(ROWS)[table]] += 1
        # Overwritten by the next, as an engine's are.
        chunk = {
            name: getattr(trace, name)[taken[name] : taken[name] + counts[name]].copy()
            for name in ROWS
        }
        yield chunk
        for name, rows in chunk.items():
            taken[name] += counts[name]
            rows.view(np.int64)[:] = -(1 << 40)


def plain(value: Any) -> Any:
    """A tally as lists and numbers, to be compared to the last bit."""
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, Enum):
        return value.name
    if isinstance(value, msgspec.Struct):
        return {name: plain(getattr(value, name)) for name in value.__struct_fields__}
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    return [plain(inner) for inner in value] if isinstance(value, tuple) else value
