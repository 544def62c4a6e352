"""Runs the points of a study and keeps each row as it comes."""

import json
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, wait
from pathlib import Path
from typing import TypeVar

from radiosim.study.runner.journal import Row, open_journal, text_of
from radiosim.study.workers import WorkersError, pool_of

P = TypeVar("P")
OnProgress = Callable[[int, int], None]
_AHEAD = 4
"""Points handed out for each worker before one is done: enough to keep them busy."""
_MOST_LOSSES = 3
"""Times in a row that processes may be lost before a single point is done."""


def run_points(
    work: Callable[[P], Row],
    points: Sequence[P],
    *,
    digest: str,
    journal: Path | None = None,
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> tuple[Row, ...]:
    """The row of every point, in their order, whatever order they were done in.

    `work` is a pure function that can be pickled; its rows are what JSON can hold. With a
    `journal` each row is on disk as soon as it is there, and those that are in it already are not
    worked out again. Without an executor: processes of this machine, none for one worker; the
    points under way in one that is lost are worked out again. WorkersError if all are lost.
    """
    kept = None if journal is None else open_journal(journal, digest, len(points))
    rows: dict[int, Row] = {} if kept is None else dict(kept.rows)
    todo = [number for number in range(len(points)) if number not in rows]
    if on_progress is not None:
        on_progress(len(rows), len(points))
    try:
        for number, row in _done(work, points, todo, executor, workers):
            if kept is not None:
                kept.add(number, row)
            # Through the text that a row is read from again: both must be alike.
            rows[number] = json.loads(text_of(row))
            if on_progress is not None:
                on_progress(len(rows), len(points))
    finally:
        if kept is not None:
            kept.close()
    return tuple(rows[number] for number in range(len(points)))


def _done(
    work: Callable[[P], Row],
    points: Sequence[P],
    todo: Sequence[int],
    executor: Executor | None,
    workers: int | None,
) -> Iterator[tuple[int, Row]]:
    wanted = min(workers or os.cpu_count() or 1, max(1, len(todo)))
    if executor is not None:
        yield from _as_they_come(executor, work, points, todo, _AHEAD * 64)
    elif wanted == 1:
        yield from ((number, work(points[number])) for number in todo)
    else:
        # Done here, so that forked processes find loaded and compiled whatever a point needs.
        yield todo[0], work(points[todo[0]])
        yield from _in_processes(work, points, todo[1:], wanted)


def _in_processes(
    work: Callable[[P], Row], points: Sequence[P], todo: Sequence[int], wanted: int
) -> Iterator[tuple[int, Row]]:
    """Rows from a pool; one that broke is replaced, and does what is still to do."""
    left, losses = dict.fromkeys(todo), 0
    while left:
        try:
            with pool_of(wanted) as pool:
                for number, row in _as_they_come(pool, work, points, tuple(left), _AHEAD * wanted):
                    del left[number]
                    losses = 0
                    yield number, row
        except WorkersError:
            losses += 1
            if losses == _MOST_LOSSES:
                raise


def _as_they_come(
    executor: Executor,
    work: Callable[[P], Row],
    points: Sequence[P],
    todo: Sequence[int],
    most: int,
) -> Iterator[tuple[int, Row]]:
    """Rows as they are done; no more points are handed out than keep the workers busy."""
    waiting: dict[Future[Row], int] = {}
    left = iter(todo)
    while True:
        while len(waiting) < most and (number := next(left, None)) is not None:
            waiting[_handed_out(executor, work, points[number])] = number
        if not waiting:
            return
        finished, _ = wait(waiting, return_when=FIRST_COMPLETED)
        for future in finished:
            yield waiting.pop(future), future.result()


def _handed_out(executor: Executor, work: Callable[[P], Row], point: P) -> Future[Row]:
    try:
        return executor.submit(work, point)
    except OSError as error:
        # Processes are being given up at this moment, and the way to them is closed already.
        raise BrokenExecutor(str(error)) from error
