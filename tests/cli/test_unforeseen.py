"""What nobody foresaw ends in a line or two and a code of its own; memory in one line."""

import errno
import subprocess
import sys
from collections.abc import Callable

import pytest

from radiosim.cli import console
from radiosim.cli.console import NOT_HELD, OUT_OF_MEMORY, REFUSED, UNFORESEEN, code_of
from radiosim.version import VERSION

HOSTILE = "a\x1b[2J\nTraceback"
ERRORS = (
    *(ValueError, KeyError, IndexError, ZeroDivisionError, OverflowError, AssertionError),
    *(RecursionError, TypeError, AttributeError, FloatingPointError, RuntimeError, UnicodeError),
)


def raising(error: BaseException) -> Callable[[], int]:
    def command() -> int:
        raise error

    return command


@pytest.mark.parametrize("kind", ERRORS)
def test_an_unforeseen_error_is_told_with_a_code_of_its_own(
    kind: type[Exception], capsys: pytest.CaptureFixture[str]
) -> None:
    code = code_of(raising(kind(HOSTILE)))
    first, second = capsys.readouterr().err.splitlines()

    assert code == UNFORESEEN
    assert code not in (NOT_HELD, REFUSED)
    assert first.startswith(f"not foreseen: {kind.__name__}: ")
    assert "\x1b" not in first
    assert second.startswith(f"This is a mistake of radiosim {VERSION}: please report it, with the")


def test_where_it_came_up_is_told_to_who_asks(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "argv", ["radiosim", console.TRACEBACK, "run"])
    code_of(raising(ValueError("odd")))

    assert "test_unforeseen.py" in capsys.readouterr().err


def caused_by(cause: BaseException) -> ImportError:
    error = ImportError("a library that others need cannot be loaded")
    error.__cause__ = cause
    return error


SEEN = (
    MemoryError(),
    OSError(errno.ENOMEM, "Cannot allocate memory"),
    # As they came up with `ulimit -v` of 60, 150 and 700 MB.
    caused_by(ImportError("libm.so: failed to map segment from shared object")),
    SystemError("error return without exception set"),
    RuntimeError("can't start new thread"),
)


@pytest.mark.parametrize("error", SEEN)
def test_out_of_memory_is_one_line(
    error: BaseException, capsys: pytest.CaptureFixture[str]
) -> None:
    assert code_of(raising(error)) == OUT_OF_MEMORY
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("out of memory: ")


@pytest.mark.skipif(sys.platform != "linux", reason="memory is limited by address space there")
def test_where_libraries_find_no_room_none_of_them_ends_the_program() -> None:
    limited = (
        "import resource; resource.setrlimit(resource.RLIMIT_AS, (100_000_000, 100_000_000)); "
        "import sys; sys.argv = ['radiosim', 'run', 'smallest']; "
        "from radiosim.cli.main import main; main()"
    )
    done = subprocess.run(
        [sys.executable, "-c", limited], capture_output=True, text=True, check=False
    )

    assert (done.returncode, done.stdout) == (OUT_OF_MEMORY, "")
    (line,) = done.stderr.splitlines()
    assert line.startswith("out of memory: ")
