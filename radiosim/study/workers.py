"""Processes that work on parts of a study."""

import signal
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context
from multiprocessing.context import BaseContext


@contextmanager
def pool_of(wanted: int) -> Iterator[Executor]:
    """Some processes; what stops the caller ends them at once."""
    pool = ProcessPoolExecutor(
        wanted, mp_context=_context(), initializer=_leave_interrupts_to_the_parent
    )
    try:
        yield pool
    except BaseException:
        # A stopped run must not wait for starts that nobody will look at.
        # There is no public way to end the processes.
        for process in list((pool._processes or {}).values()):
            process.terminate()
        pool.shutdown(wait=True, cancel_futures=True)
        raise
    pool.shutdown()


def _context() -> BaseContext:
    """Forked workers have the compiled code at once; a fork is safe only without other threads."""
    can_fork = sys.platform == "linux" and threading.active_count() == 1
    return get_context("fork" if can_fork else "spawn")


def _leave_interrupts_to_the_parent() -> None:
    """Ctrl-C goes to the whole group; only the parent answers it, by ending its workers."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
