"""Processes of this machine that simulate."""

import os
import signal
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context, parent_process
from multiprocessing.context import BaseContext

from radiosim.errors import RadiosimError


class WorkersError(RadiosimError):
    """Processes that do not live to finish their work."""


@contextmanager
def worker_pool(wanted: int) -> Iterator[Executor]:
    """Some processes; what stops the caller ends them at once. WorkersError if one is lost."""
    pool = ProcessPoolExecutor(wanted, mp_context=_context(), initializer=_begin)
    # All at first: one that starts while another's death is dealt with changes what is being gone
    # through, and the pool's thread ends in a traceback. There is no public way to say so either.
    pool._safe_to_dynamically_spawn_children = False  # type: ignore[attr-defined]
    try:
        yield pool
    except BaseException as error:
        # A stopped run must not wait for starts that nobody will look at.
        # There is no public way to end the processes.
        for process in list((pool._processes or {}).values()):
            process.terminate()
        pool.shutdown(wait=True, cancel_futures=True)
        if isinstance(error, BrokenExecutor):
            raise WorkersError(
                "--workers: processes end before their work is done, perhaps for want of memory; "
                f"try fewer than {wanted}"
            ) from None
        raise
    pool.shutdown()


def _context() -> BaseContext:
    """Forked workers have the compiled code at once; a fork is safe only without other threads."""
    can_fork = sys.platform == "linux" and threading.active_count() == 1
    return get_context("fork" if can_fork else "spawn")


def _begin() -> None:
    """Ctrl-C goes to the whole group: only the parent acknowledgements it, by ending its workers.

    A parent that is killed cannot: they see that it is gone.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_the_parent, daemon=True).start()


def _end_with_the_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def workers_for(workers: int | None, points: int) -> int:
    """How many processes serve some points: those asked for, or all cores, but no idle ones."""
    return max(1, min(workers or os.cpu_count() or 1, points))
