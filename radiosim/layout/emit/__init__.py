"""A layout for the firmware: as a C header, and as test vectors."""

from radiosim.layout.emit.c_header import c_header
from radiosim.layout.emit.vectors import Vector, vectors

__all__ = ["Vector", "c_header", "vectors"]
