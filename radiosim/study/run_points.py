"""Points of a study, run on any executor and folded in their order; processes that simulate."""

import json
import os
import signal
import sys
import threading
from collections.abc import Callable, Generator, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    Executor,
    Future,
    wait,
)
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from radiosim.errors import RadiosimError
from radiosim.study.journal import Journal, open_journal, text_of

if TYPE_CHECKING:
    from multiprocessing.context import BaseContext


class WorkersError(RadiosimError):
    """Processes that do not live to finish their work."""


@contextmanager
def worker_pool(wanted: int) -> Iterator[Executor]:
    """Some processes; what stops the caller ends them at once. WorkersError if one is lost."""
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415 - few studies want processes

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


def _context() -> "BaseContext":
    """Forked workers have the compiled code at once; a fork is safe only without other threads."""
    from multiprocessing import get_context  # noqa: PLC0415 - as above

    can_fork = sys.platform == "linux" and threading.active_count() == 1
    return get_context("fork" if can_fork else "spawn")


def _begin() -> None:
    """Ctrl-C goes to the whole group: only the parent acknowledgements it, by ending its workers.

    A parent that is killed cannot: they see that it is gone.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_the_parent, daemon=True).start()


def _end_with_the_parent() -> None:
    from multiprocessing import parent_process  # noqa: PLC0415 - as above

    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def workers_for(workers: int | None, points: int) -> int:
    """How many processes serve some points: those asked for, or all cores, but no idle ones."""
    return max(1, min(workers or os.cpu_count() or 1, points))


P = TypeVar("P")
R = TypeVar("R")
T = TypeVar("T")
OnProgress = Callable[[int, int], None]
"""Called with what is done and what there is in all."""
_AHEAD = 4
"""Points handed out for each worker before one is done: enough to keep them busy."""
_MOST_LOSSES = 3
"""Times in a row that processes may be lost before a single point is done."""


def _one(_: object) -> int:
    return 1


def run_points(
    work: Callable[[P], R],
    points: Sequence[P],
    *,
    fold: Callable[[Iterable[R]], T],
    size_of: Callable[[P], int] = _one,
    is_ready: bool = False,
    digest: str = "",
    journal: Path | None = None,
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> T:
    """What `fold` makes of the results of all points, which it gets one by one, in their order.

    `work` is a pure function that can be pickled. Without an executor: processes of this machine,
    none for one worker; the points under way in one that is lost are worked out again.
    `is_ready`: whatever a point needs is loaded and compiled here; else the first point is done
    here, for processes that are forked. `size_of` a point is what counts as progress.

    With a `digest`, which tells this study from others, results are rows, as JSON holds them, and
    a `journal` may keep them: each is on disk as soon as it is there, and those that are in it
    are not worked out again. WorkersError if all processes are lost, JournalError.
    """
    kept = None if journal is None else open_journal(journal, digest, len(points))
    before: Mapping[int, Any] = {} if kept is None else dict(kept.rows)
    study = _Study(
        work=work,
        points=points,
        progress=_Progress([size_of(point) for point in points], set(before), on_progress),
        is_ready=is_ready,
    )
    todo = [number for number in range(len(points)) if number not in before]
    coming = _done(study, todo, executor, workers_for(workers, len(todo)))
    rows = _kept(coming, kept) if digest else coming
    try:
        # Closed at once if the fold is stopped: processes must not outlive it.
        with closing(_in_order(before, _told(rows, study.progress))) as results:
            return fold(results)
    finally:
        if kept is not None:
            kept.close()


class _Progress:
    """What is done of a study, told as it changes."""

    def __init__(
        self, sizes: Sequence[int], before: set[int], on_progress: OnProgress | None
    ) -> None:
        self._sizes, self._on_progress = sizes, on_progress
        self._done, self._total = sum(sizes[number] for number in before), sum(sizes)
        self._has_begun = False

    def begin(self) -> None:
        """Tell how much was done before, once.

        Whoever hears of it may start a thread: all processes are forked by then.
        """
        if not self._has_begun and self._on_progress is not None and self._total:
            self._on_progress(self._done, self._total)
        self._has_begun = True

    def add(self, number: int) -> None:
        """Tell that a point is done."""
        self.begin()
        self._done += self._sizes[number]
        if self._on_progress is not None:
            self._on_progress(self._done, self._total)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Study(Generic[P, R]):
    """What is done, wherever."""

    work: Callable[[P], R]
    points: Sequence[P]
    progress: _Progress
    is_ready: bool


Numbered = tuple[int, R]
"""Number of a point, and its result."""


def _kept(coming: Iterable[Numbered[R]], journal: Journal | None) -> Iterator[Numbered[R]]:
    """Rows as they come, in the journal if there is one."""
    for number, row in coming:
        kept: Any = row
        if journal is not None:
            journal.add(number, kept)
        # Through the text that a row is read from again: both must be alike.
        yield number, json.loads(text_of(kept))


def _in_order(before: Mapping[int, R], coming: Iterable[Numbered[R]]) -> Generator[R, None, None]:
    """Results in the order of their points, those that were there before among them."""
    waiting, following = dict(before), 0
    for number, result in coming:
        waiting[number] = result
        while following in waiting:
            yield waiting.pop(following)
            following += 1
    yield from (waiting[number] for number in sorted(waiting))


def _told(coming: Iterable[Numbered[R]], progress: _Progress) -> Iterator[Numbered[R]]:
    for number, result in coming:
        progress.add(number)
        yield number, result
    progress.begin()


def _done(
    study: _Study[P, R], todo: Sequence[int], executor: Executor | None, wanted: int
) -> Iterator[Numbered[R]]:
    if executor is not None:
        yield from _as_they_come(study, executor, todo, _AHEAD * 64)
    elif wanted == 1:
        study.progress.begin()
        yield from ((number, study.work(study.points[number])) for number in todo)
    else:
        if not study.is_ready:
            yield todo[0], study.work(study.points[todo[0]])
            todo = todo[1:]
        yield from _in_processes(study, todo, wanted)


def _in_processes(study: _Study[P, R], todo: Sequence[int], wanted: int) -> Iterator[Numbered[R]]:
    """Results from a pool; one that broke is replaced, and does what is still to do."""
    left, losses = dict.fromkeys(todo), 0
    while left:
        try:
            with worker_pool(wanted) as pool:
                for number, result in _as_they_come(study, pool, tuple(left), _AHEAD * wanted):
                    del left[number]
                    losses = 0
                    yield number, result
        except WorkersError:
            losses += 1
            if losses == _MOST_LOSSES:
                raise


def _as_they_come(
    study: _Study[P, R], executor: Executor, todo: Sequence[int], most: int
) -> Iterator[Numbered[R]]:
    """Results as they are done; no more points are handed out than keep the workers busy."""
    waiting: dict[Future[R], int] = {}
    left = iter(todo)
    while True:
        while len(waiting) < most and (number := next(left, None)) is not None:
            waiting[_handed_out(executor, study.work, study.points[number])] = number
        if not waiting:
            return
        study.progress.begin()
        finished, _ = wait(waiting, return_when=FIRST_COMPLETED)
        for future in finished:
            yield waiting.pop(future), future.result()


def _handed_out(executor: Executor, work: Callable[[P], R], point: P) -> Future[R]:
    try:
        return executor.submit(work, point)
    except OSError as error:
        # Processes are being given up at this moment, and the way to them is closed already.
        raise BrokenExecutor(str(error)) from error
