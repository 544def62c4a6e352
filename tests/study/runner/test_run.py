"""Points on any executor."""

import functools
import os
import signal
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from radiosim.study.runner.journal import JournalError, Row
from radiosim.study.runner.run import run_points
from radiosim.study.workers import WorkersError

ROOT = Path(__file__).parents[3]
POINTS = tuple(range(40))


def squared(point: int) -> Row:
    return {"z": point**2, "a": [point / 7]}


def ran(**how: Any) -> tuple[Row, ...]:
    return run_points(squared, POINTS, digest="d", **how)


def test_rows_come_in_order_of_the_points_on_every_executor() -> None:
    alone = ran(workers=1)

    assert [row["z"] for row in alone] == [point**2 for point in POINTS]
    assert ran(workers=2) == alone
    with ThreadPoolExecutor(3) as pool:
        assert ran(executor=pool) == alone


def test_what_is_in_the_journal_is_not_worked_out_again(tmp_path: Path) -> None:
    done: list[int] = []

    def counted(point: int) -> Row:
        done.append(point)
        if len(done) == 7:
            raise KeyboardInterrupt
        return squared(point)

    with pytest.raises(KeyboardInterrupt):
        run_points(counted, POINTS, digest="d", journal=tmp_path / "j", workers=1)
    assert done == list(range(7))
    rows = run_points(counted, POINTS, digest="d", journal=tmp_path / "j", workers=1)
    assert done == [*range(7), *range(6, 40)]
    assert repr(rows) == repr(ran(workers=1))


def test_progress_counts_what_was_done_before(tmp_path: Path) -> None:
    seen: list[tuple[int, int]] = []
    run_points(squared, POINTS[:5], digest="d", journal=tmp_path / "j", workers=1)
    ran(workers=1, on_progress=lambda done, total: seen.append((done, total)))

    assert seen[0] == (0, 40)
    assert seen[-1] == (40, 40)
    seen.clear()
    run_points(
        squared,
        POINTS[:5],
        digest="d",
        journal=tmp_path / "j",
        on_progress=lambda done, total: seen.append((done, total)),
    )
    assert seen == [(5, 5)]


def test_a_full_disk_loses_nothing_that_was_kept(tmp_path: Path, monkeypatch: Any) -> None:
    real, calls = os.fsync, []

    def full(number: int) -> None:
        calls.append(number)
        if len(calls) > 4:
            raise OSError(28, "No space left on device")
        real(number)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(JournalError, match=r"No space left.*--resume"):
        ran(workers=1, journal=tmp_path / "j")
    monkeypatch.undo()
    assert repr(ran(workers=1, journal=tmp_path / "j")) == repr(ran(workers=1))


AT_ITS_LARGEST = """
import resource, sys
from pathlib import Path
from radiosim.study.runner.run import run_points
from tests.study.runner.test_run import POINTS, squared

resource.setrlimit(resource.RLIMIT_FSIZE, (400, resource.RLIM_INFINITY))
try:
    run_points(squared, POINTS, digest="d", journal=Path(sys.argv[1]), workers=1)
except Exception as error:
    print(type(error).__name__, error)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no limit on the size of files")
def test_a_journal_that_cannot_grow_says_so_and_is_gone_on_with(tmp_path: Path) -> None:
    journal = tmp_path / "j"
    done = subprocess.run(
        [sys.executable, "-c", AT_ITS_LARGEST, journal],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )

    said = f"JournalError {journal}: cannot be written: File too large; what is in it stays"
    assert done.stdout.startswith(said), done.stderr
    assert journal.stat().st_size == 400
    assert repr(ran(workers=1, journal=journal)) == repr(ran(workers=1))


def dies_once(place: Path, point: int) -> Row:
    """Takes its process down with it, the first time that point 20 is worked out."""
    if point == 20 and not place.exists():
        place.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return squared(point)


def dies(point: int) -> Row:
    if point:
        os.kill(os.getpid(), signal.SIGKILL)
    return squared(point)


def test_points_of_a_process_that_is_killed_are_worked_out_again(tmp_path: Path) -> None:
    work = functools.partial(dies_once, tmp_path / "died")
    rows = run_points(work, POINTS, digest="d", journal=tmp_path / "j", workers=2)

    assert (tmp_path / "died").exists()
    assert repr(rows) == repr(ran(workers=1))


def test_processes_that_always_die_are_given_up() -> None:
    with pytest.raises(WorkersError, match="try fewer than 2"):
        run_points(dies, POINTS, digest="d", workers=2)


def test_processes_given_up_as_a_point_is_handed_out_are_replaced(monkeypatch: Any) -> None:
    submit, calls = ProcessPoolExecutor.submit, []

    def closed(self: ProcessPoolExecutor, *args: Any) -> Any:
        calls.append(args)
        if len(calls) == 3:
            raise OSError("handle is closed")
        return submit(self, *args)

    monkeypatch.setattr(ProcessPoolExecutor, "submit", closed)

    assert repr(ran(workers=2)) == repr(ran(workers=1))
    assert len(calls) > len(POINTS) - 1
