"""Processes that are started beside this one and that Ctrl-C in a terminal spares."""

import os
import signal
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, suppress
from typing import IO, TYPE_CHECKING

from radiosim.endings import before_any_end, taken_away_at_an_end

if TYPE_CHECKING:
    from subprocess import CompletedProcess, Popen

LONGEST_END_S = 1.0
"""For a program that was killed to be gone."""


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


def run_program(
    arguments: Sequence[str], longest_s: float, environment: Mapping[str, str] | None = None
) -> "CompletedProcess[bytes]":
    """What a program gave and said, once it has ended; it ends with this one, whenever that is.

    OSError if it cannot be started, TimeoutExpired if it takes longer.
    """
    import subprocess  # noqa: PLC0415 - few commands start processes

    with ExitStack() as stack:
        with before_any_end():
            process = subprocess.Popen(
                arguments,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                env=environment,
                start_new_session=True,
            )
            stack.enter_context(taken_away_at_an_end(lambda: end_group(process)))
        try:
            gave, said = process.communicate(timeout=longest_s)
        except BaseException:
            end_group(process)
            process.communicate()
            raise
    return subprocess.CompletedProcess(arguments, process.returncode, gave, said)


def end_group(process: "Popen[bytes]") -> None:
    """End a program that leads a group, and all in it, at once."""
    from subprocess import TimeoutExpired  # noqa: PLC0415 - few commands start processes

    with suppress(OSError):
        os.killpg(process.pid, signal.SIGKILL)
    with suppress(TimeoutExpired):
        process.wait(LONGEST_END_S)


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
