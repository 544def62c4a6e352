"""Machine code."""

from radiosim.machine.kinds import CompileError
from radiosim.machine.root import Root, compiled

__all__ = ["CompileError", "Root", "compiled"]
