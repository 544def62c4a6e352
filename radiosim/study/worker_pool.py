"""Processes of this machine that work out points: an executor that replaces those that are lost."""

import io
import pickle
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from queue import SimpleQueue
from typing import Any, TypeVar

from radiosim.child_process import start_python
from radiosim.endings import before_any_end, taken_away_at_an_end
from radiosim.engine.simulate import load_fast
from radiosim.errors import RadiosimError
from radiosim.study.most_workers import most_workers
from radiosim.study.worker_process import receive, send

T = TypeVar("T")
MOST_LOSSES = 3
"""Processes that one point may take down with it."""
LONGEST_END_S = 5.0
"""For a process to see that nobody waits for it."""
_RUN = (
    "import sys; sys.path[:] = sys.argv[1:]; "
    "from radiosim.study.worker_process import serve; serve()"
)


class WorkersError(RadiosimError):
    """Processes that do not live to finish their work."""


_shared: ContextVar["_Pool | None"] = ContextVar("_shared", default=None)


@contextmanager
def worker_pool(wanted: int, work: object = None) -> Iterator[Executor]:
    """Some processes, which load `work` and all that it needs as soon as they start.

    What is worked out in one that is lost is worked out again in a new one; WorkersError for what
    takes several down with it, and if none can be started. What stops the caller ends them at once.
    """
    with shared_pool():
        pool = _shared.get()
        assert pool is not None
        pool.grow(wanted, work)
        yield pool


@contextmanager
def shared_pool() -> Iterator[None]:
    """While this lasts, processes that have no more to do wait for the next pool that is asked for.

    It takes longer to start one than to work out many a point.
    """
    if _shared.get() is not None:
        yield
        return
    pool = _Pool()
    before = _shared.set(pool)
    with taken_away_at_an_end(pool.end):
        try:
            yield
        finally:
            _shared.reset(before)
            pool.end()
            pool.shutdown()


class _Pool(Executor):
    """For each process a thread that hands it what to work out, and waits for the result."""

    def __init__(self) -> None:
        self._wanted = 0
        self._work: object = None
        self._threads = ThreadPoolExecutor(most_workers())
        self._idle: SimpleQueue[_Worker | None] = SimpleQueue()
        self._workers: frozenset[_Worker] = frozenset()
        self._is_over = False

    def grow(self, wanted: int, work: object) -> None:
        """Start what lacks of so many processes; they load while whoever asked goes on."""
        self._work = work
        while self._wanted < wanted:
            self._wanted += 1
            self._threads.submit(self._begun, self._started())

    def submit(self, work: Callable[..., T], /, *arguments: Any, **keywords: Any) -> "Future[T]":
        """The result, to come, of a function that can be pickled."""
        assert not keywords, "a process is sent a function and its arguments in their order"
        return self._threads.submit(self._worked_out, pickle.dumps((work, arguments)))

    def end(self) -> None:
        """End all processes, and let none start any more."""
        with before_any_end():
            self._is_over = True
            workers = self._workers
        for worker in workers:
            worker.hang_up()
        for worker in workers:
            worker.end()
        for _ in range(most_workers()):
            self._idle.put(None)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = True) -> None:
        """Let nothing more be worked out, once all processes have ended."""
        self._threads.shutdown(wait=wait, cancel_futures=cancel_futures)
        for worker in self._workers:
            worker.close()

    def _begun(self, worker: "_Worker") -> None:
        worker.begin(self._work)
        self._idle.put(worker)

    def _worked_out(self, request: bytes) -> Any:
        worker = self._idle.get()
        if worker is None:
            raise self._error("were ended")
        try:
            for _ in range(MOST_LOSSES):
                worker.catch_up()
                if (found := worker.result_of(request)) is not None:
                    break
                worker = self._instead_of(worker)
            else:
                raise self._error("end before their work is done, perhaps for want of memory")
        finally:
            self._idle.put(worker)
        is_well, result = pickle.loads(found)
        if not is_well:
            raise result
        return result

    def _instead_of(self, lost: "_Worker") -> "_Worker":
        lost.hang_up()
        lost.end()
        lost.close()
        worker = self._started(lost)
        worker.begin(self._work)
        return worker

    def _started(self, lost: "_Worker | None" = None) -> "_Worker":
        with before_any_end():
            if self._is_over:
                raise self._error("were ended")
            try:
                worker = _Worker()
            except OSError as error:
                raise self._error(f"cannot be started: {error.strerror or error}") from None
            self._workers = self._workers - {lost} | {worker}
        return worker

    def _error(self, text: str) -> WorkersError:
        return WorkersError(f"--workers: processes {text}; try fewer than {self._wanted}")


class _Worker:
    """A process, and the pipes to and from it."""

    def __init__(self) -> None:
        # Where it finds modules is no message: whoever sends one may be ended before it does.
        self._process = start_python(["-c", _RUN, *sys.path])
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._requests = self._process.stdin
        self._codes = 0
        self._results = io.BufferedReader(self._process.stdout)  # type: ignore[type-var]

    def begin(self, work: object) -> None:
        """Back when it has loaded the modules that it needs, or is lost."""
        self.result_of(pickle.dumps((_loaded, (work,))))

    def catch_up(self) -> None:
        """Hand over code that was made here since, where a process does not find it kept."""
        fast = sys.modules.get("radiosim.engine.fast")
        if fast is not None and len(fast.unkept) > self._codes:
            self._codes = len(fast.unkept)
            self.result_of(pickle.dumps((_keep, (dict(fast.unkept),))))

    def result_of(self, request: bytes) -> bytes | None:
        """What came out of a request, pickled; None if the process is lost."""
        try:
            send(self._requests, request)
            return receive(self._results)
        except (OSError, ValueError):
            return None

    def hang_up(self) -> None:
        """Let it see that nobody waits for it: it takes away what it would leave, and ends."""
        with suppress(OSError):
            self._requests.close()

    def end(self) -> None:
        """Wait until it has ended, but not for long."""
        from subprocess import TimeoutExpired  # noqa: PLC0415 - few studies want processes

        try:
            self._process.wait(LONGEST_END_S)
        except TimeoutExpired:
            self._process.kill()

    def close(self) -> None:
        """Close the pipes of a process that has ended, or is about to."""
        self._process.wait()
        self._results.close()


def _keep(codes: dict[str, bytes]) -> None:
    loaded = load_fast()
    if not isinstance(loaded, str):
        loaded.unkept.update(codes)


def _loaded(_: object) -> None:
    """Load what most work takes; what this one takes was loaded as it was read."""
    load_fast()
