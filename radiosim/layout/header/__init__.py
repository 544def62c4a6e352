"""Structs of C and C++ headers."""

from radiosim.layout.header._struct_fields import CField
from radiosim.layout.header.struct_reader import HeaderStruct, described, read_struct

__all__ = ["CField", "HeaderStruct", "described", "read_struct"]
