"""How many processes a pool has."""

import os

MOST_A_CORE = 4
"""Processes: more are slower, and each takes about 100 MB."""


def cores() -> int:
    """Processor cores that this program may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def most_workers() -> int:
    """As many processes as a pool ever has here."""
    return MOST_A_CORE * cores()


def workers_for(workers: int | None, points: int) -> int:
    """How many processes serve some points: those asked for, or all cores, but no idle ones."""
    return max(1, min(workers or cores(), most_workers(), points))
