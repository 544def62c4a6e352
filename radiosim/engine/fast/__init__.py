"""The model as one compiled loop over one record: for ensembles. Loads numba."""

from radiosim.engine.fast.compiled import compiled_loop, is_compiled
from radiosim.engine.fast.compiled_run import (
    Chunk,
    Moment,
    Paused,
    begin,
    can_run,
    chunks,
    compile_for,
    run,
)

__all__ = [
    "Chunk",
    "Moment",
    "Paused",
    "begin",
    "can_run",
    "chunks",
    "compile_for",
    "compiled_loop",
    "is_compiled",
    "run",
]
