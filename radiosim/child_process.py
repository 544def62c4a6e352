"""Processes of Python that are started beside this one and that Ctrl-C in a terminal spares."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any


def start_python(arguments: Sequence[str], **streams: Any) -> "subprocess.Popen[bytes]":
    """A new interpreter; `streams` as for Popen. Whoever starts it ends it.

    Ctrl-C goes to all programs of a terminal at once. This one never sees it, not even before its
    first line has run. OSError if it cannot be started.
    """
    if os.name == "nt":
        streams["creationflags"] = getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)
    with _without_interrupts():
        return subprocess.Popen([sys.executable, *arguments], **streams)


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
