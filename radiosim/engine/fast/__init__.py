"""The model as one compiled loop over one record: for ensembles. Loads LLVM."""

from radiosim.engine.fast.compiled_run import (
    Chunk,
    Moment,
    Paused,
    begin,
    can_run,
    chunks,
    compile_for,
    is_compiled,
    run,
)
from radiosim.machine import compiled, kept, unkept

__all__ = [
    "Chunk",
    "Moment",
    "Paused",
    "begin",
    "can_run",
    "chunks",
    "compile_for",
    "compiled",
    "is_compiled",
    "run",
    "unkept",
]

kept.make_ready()
