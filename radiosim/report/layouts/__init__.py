"""Layouts for people and for programs: maps, traps, comparisons."""
