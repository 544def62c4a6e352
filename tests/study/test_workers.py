"""Processes that work on parts of a study."""

import os
import signal
import subprocess
import sys
from multiprocessing import get_context
from pathlib import Path

import pytest

from radiosim.study import workers
from radiosim.study.workers import WorkersError, pool_of

PROGRAM = """
import itertools, os
from radiosim.study.workers import pool_of

def busy(_):
    os.write(1, b"busy\\n")
    for _ in itertools.count():
        pass

if __name__ == "__main__":
    with pool_of(2) as pool:
        list(pool.map(busy, range(2)))
"""


def test_workers_end_with_a_parent_that_was_killed(tmp_path: Path) -> None:
    program = tmp_path / "program.py"
    program.write_text(PROGRAM, encoding="utf-8")
    with subprocess.Popen([sys.executable, program], stdout=subprocess.PIPE, text=True) as running:
        assert running.stdout is not None
        try:
            assert [running.stdout.readline() for _ in range(2)] == ["busy\n"] * 2
        finally:
            running.send_signal(signal.SIGKILL)

        # Ends only when nobody holds the other end any more: no worker is left.
        assert running.communicate(timeout=60)[0] == ""


def dies(_: int) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def test_a_process_that_is_lost_is_told_in_one_line() -> None:
    with pytest.raises(WorkersError, match=r"^--workers: .* try fewer than 2$"), pool_of(2) as pool:
        list(pool.map(dies, range(4)))


def test_no_process_starts_later_than_another(monkeypatch: pytest.MonkeyPatch) -> None:
    # Of one that starts while another's death is dealt with, the pool's own thread loses count.
    monkeypatch.setattr(workers, "_context", lambda: get_context("spawn"))
    with pool_of(3) as pool:
        pool.submit(os.getpid)
        started = len(pool._processes)  # type: ignore[attr-defined]

    assert started == 3


def test_nothing_that_tests_import_lets_a_broken_pipe_kill_them() -> None:
    # The way to processes that are lost is such a pipe: the caller would vanish without a word.
    assert signal.getsignal(signal.SIGPIPE) is signal.SIG_IGN
