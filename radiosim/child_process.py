"""Processes that are started beside this one and that Ctrl-C in a terminal spares."""

import os
import signal
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import IO, TYPE_CHECKING

if TYPE_CHECKING:
    from subprocess import Popen


def start_python(arguments: Sequence[str]) -> "Popen[bytes]":
    """A new interpreter, with pipes without buffers to and from it. Whoever starts it ends it.

    Ctrl-C goes to all programs of a terminal at once. This one never sees it, not even before its
    first line has run. OSError if it cannot be started.
    """
    import subprocess  # noqa: PLC0415 - few commands start processes

    with _without_interrupts():
        return subprocess.Popen(
            [sys.executable, *arguments],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            bufsize=0,
            # Where there are no signals to be kept away (Windows).
            creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
        )


def start_program(arguments: Sequence[str], printed: IO[bytes]) -> "Popen[bytes]":
    """A program with pipes without buffers to and from it, and what it says to a file.

    It leads a group of its own, so that it can be ended with all that it started: see `end_group`.
    OSError if it cannot be started.
    """
    import subprocess  # noqa: PLC0415 - few commands start processes

    return subprocess.Popen(
        arguments,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=printed,
        bufsize=0,
        start_new_session=True,
    )


def end_group(process: "Popen[bytes]") -> None:
    """End a program that leads a group, and all in it, at once."""
    with suppress(OSError):
        os.killpg(process.pid, signal.SIGKILL)


@contextmanager
def _without_interrupts() -> Iterator[None]:
    """Keep Ctrl-C from this thread, and for good from what it starts meanwhile."""
    if os.name == "nt":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
