"""Points of a study, run on any executor and folded in their order; processes that simulate."""

import json
from collections.abc import Callable, Generator, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from contextlib import closing
from pathlib import Path
from typing import Any, Generic, TypeVar

import msgspec

from radiosim.study.journal import Journal, open_journal, text_of
from radiosim.study.most_workers import workers_for
from radiosim.study.worker_pool import worker_pool

P = TypeVar("P")
R = TypeVar("R")
T = TypeVar("T")
OnProgress = Callable[[int, int], None]
"""Called with what is done and what there is in all."""
_AHEAD = 4
"""Points handed out for each worker before one is done: enough to keep them busy."""


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
    none for one worker; a point under way in one that is lost is worked out again. The first
    point is worked out here, while they load. `is_ready`: whatever a point needs is compiled; else
    the others wait for it, so that processes find compiled code. `size_of` a point is what counts
    as progress.

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
        """Tell how much was done before, once."""
        if not self._has_begun and self._on_progress is not None and self._total:
            self._on_progress(self._done, self._total)
        self._has_begun = True

    def add(self, number: int) -> None:
        """Tell that a point is done."""
        self.begin()
        self._done += self._sizes[number]
        if self._on_progress is not None:
            self._on_progress(self._done, self._total)


class _Study(Generic[P, R], msgspec.Struct, frozen=True, kw_only=True):
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
        with worker_pool(wanted, study.work) as pool:
            yield from _beside_a_pool(study, pool, todo, _AHEAD * wanted)


def _beside_a_pool(
    study: _Study[P, R], pool: Executor, todo: Sequence[int], most: int
) -> Iterator[Numbered[R]]:
    """Results from processes that still load, so that the first one is worked out here."""
    first, *others = todo
    if study.is_ready:
        yield from _as_they_come(study, pool, others, most, first)
    else:
        yield first, study.work(study.points[first])
        yield from _as_they_come(study, pool, others, most)


def _as_they_come(
    study: _Study[P, R], executor: Executor, todo: Sequence[int], most: int, here: int | None = None
) -> Iterator[Numbered[R]]:
    """Results as they are done, that of the point `here` worked out by this process meanwhile.

    No more points are handed out than keep the workers busy.
    """
    waiting: dict[Future[R], int] = {}
    left = iter(todo)
    try:
        while True:
            while len(waiting) < most and (number := next(left, None)) is not None:
                waiting[executor.submit(study.work, study.points[number])] = number
            study.progress.begin()
            if here is not None:
                yield here, study.work(study.points[here])
                here = None
            if not waiting:
                return
            finished, _ = wait(waiting, return_when=FIRST_COMPLETED)
            for future in finished:
                yield waiting.pop(future), future.result()
    finally:
        for future in waiting:
            future.cancel()
