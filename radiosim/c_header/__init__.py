"""Structs of C and C++ headers, parsed in a process of their own."""
