"""Structs of C and C++ headers."""

from radiosim.layout.header.described import described
from radiosim.layout.header.read import HeaderStruct, read_struct
from radiosim.layout.header.walk import CField

__all__ = ["CField", "HeaderStruct", "described", "read_struct"]
