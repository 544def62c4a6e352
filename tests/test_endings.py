"""Whatever instant an end comes at, what was begun is taken away."""

import os
import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest

from radiosim.child_process import start_python

pytestmark = pytest.mark.skipif(os.name != "posix", reason="there are no such signals")

BEFORE = """
import os, signal, sys
from pathlib import Path
from radiosim.cli.console import expect_ends
from radiosim.endings import before_any_end, taken_away_at_an_end

expect_ends()
place = Path(sys.argv[1])
def end():
    os.kill(os.getpid(), signal.SIGTERM)
"""


def ended(code: str, place: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", BEFORE + code, str(place)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def test_what_must_be_done_before_an_end_is_done_and_no_more(tmp_path: Path) -> None:
    done = ended(
        """
with before_any_end():
    with before_any_end():
        end()
    place.joinpath("done").touch()
place.joinpath("more").touch()
""",
        tmp_path,
    )

    assert (done.returncode, done.stderr) == (128 + signal.SIGTERM, "stopped\n")
    assert [path.name for path in tmp_path.iterdir()] == ["done"]


def test_a_passing_folder_is_gone_even_if_the_end_comes_as_it_is_made(tmp_path: Path) -> None:
    done = ended(
        """
import tempfile
from radiosim.passing_folder import passing_folder
make = tempfile.mkdtemp
def made(**options):
    folder = make(**options)
    end()
    Path(folder, "in it").touch()
    return folder
tempfile.mkdtemp = made
with passing_folder("x", place):
    place.joinpath("more").touch()
""",
        tmp_path,
    )

    assert done.returncode == 128 + signal.SIGTERM
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs /proc")
def test_an_interpreter_beside_this_one_never_sees_ctrl_c() -> None:
    code = "print(next(line for line in open('/proc/self/status') if line[:7] == 'SigBlk:'))"
    with start_python(["-c", code]) as process:
        told, _ = process.communicate()

    assert int(told.split()[1], 16) & 1 << signal.SIGINT - 1
    assert signal.SIGINT not in signal.pthread_sigmask(signal.SIG_BLOCK, set())


def test_a_program_ends_with_whoever_runs_it_and_so_does_what_it_started(tmp_path: Path) -> None:
    done = ended(
        """
from radiosim.child_process import run_program
name = place / "group"
os.mkfifo(name)
from threading import Thread
def listen():
    sys.stdout.write(name.read_text())
    sys.stdout.flush()
    end()
Thread(target=listen).start()
run_program(("sh", "-c", f'sleep 600 & echo $$ > "{name}"; sleep 600'), 60)
""",
        tmp_path,
    )

    assert done.returncode == 128 + signal.SIGTERM
    group = int(done.stdout)
    # It was ended, but the kernel takes its time.
    assert any(not _is_alive(group) for _ in range(2_000))


def _is_alive(group: int) -> bool:
    for place in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):
            state, _, of = place.read_text().rpartition(")")[2].split()[:3]
            if int(of) == group and state not in "ZX":
                return True
    return False
