"""Processes that work on parts of a study."""

import os
import signal
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context, parent_process
from multiprocessing.context import BaseContext


@contextmanager
def pool_of(wanted: int) -> Iterator[Executor]:
    """Some processes; what stops the caller ends them at once."""
    pool = ProcessPoolExecutor(wanted, mp_context=_context(), initializer=_begin)
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


def _begin() -> None:
    """Ctrl-C goes to the whole group: only the parent answers it, by ending its workers.

    A parent that is killed cannot: they see that it is gone.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_the_parent, daemon=True).start()


def _end_with_the_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
