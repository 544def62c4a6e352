"""Processes that work on parts of a study."""

import signal
import subprocess
import sys
from pathlib import Path

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
