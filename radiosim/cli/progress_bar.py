"""A bar for runs that take long, on a terminal alone."""

import io
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import RLock, Timer
from typing import TYPE_CHECKING, TextIO, cast

from radiosim.cli.console import columns_of_terminal
from radiosim.endings import before_any_end, taken_away_at_an_end

if TYPE_CHECKING:
    from rich.progress import Progress

OnProgress = Callable[[int, int], None]
"""Called with (done, total)."""
PATIENCE_S = 1.5
"""A run that is over by then shows no bar."""


@contextmanager
def progress(
    total: int, patience_s: float = PATIENCE_S, what: str = "starts"
) -> Iterator[OnProgress | None]:
    """What to call with (done, total); None without a terminal.

    A run that takes longer than `patience_s` after the first call gets a bar with the time it has
    taken and has left.
    """
    if not sys.stderr.isatty():
        yield None
        return
    patient = _Patient(total, patience_s, what)
    with taken_away_at_an_end(patient.wipe):
        try:
            yield patient.update
        finally:
            patient.end()


class _Patient:
    """A bar that shows itself some time after the first call."""

    def __init__(self, total: int, patience_s: float, what: str) -> None:
        self._screen = _Screen(sys.stderr)
        self._bar = _bar_of(what, cast("TextIO", self._screen))
        self._task = self._bar.add_task(what, total=total)
        # The first start may take long: the bar must not wait for it.
        self._patience = Timer(patience_s, self._show)
        self._patience.daemon = True
        self._has_begun = self._is_shown = False

    def update(self, done: int, total: int) -> None:
        """Take in how much is done."""
        if not self._has_begun:
            self._has_begun = True
            self._patience.start()
        self._bar.update(self._task, completed=done, total=total)

    def end(self) -> None:
        """Take it off the terminal."""
        self._patience.cancel()
        if self._has_begun:
            self._patience.join()
        self._bar.stop()

    def wipe(self) -> None:
        """Take it off and show the cursor again, whatever the bar itself is doing."""
        self._screen.be_quiet()
        # Not while it says that it is started: it shows the cursor only some steps after.
        if self._is_shown and not self._bar.console.is_dumb_terminal:
            os.write(sys.stderr.fileno(), b"\r\x1b[2K\x1b[?25h")

    def _show(self) -> None:
        with before_any_end():
            self._is_shown = True
            self._bar.start()


class _Screen(io.TextIOBase):
    """A terminal for a bar that a thread of its own paints, which may be stopped at any instant."""

    LONGEST_WAIT_S = 1.0
    """For what is being painted: a terminal may be held by its user."""

    def __init__(self, terminal: TextIO) -> None:
        self._terminal = terminal
        self._lock = RLock()
        self._is_quiet = False

    def be_quiet(self) -> None:
        """What was begun is written, and from now on nothing more."""
        self._is_quiet = True
        if self._lock.acquire(timeout=self.LONGEST_WAIT_S):
            self._lock.release()

    def write(self, text: str) -> int:
        """Write it, unless it is to be quiet."""
        with self._lock:
            return len(text) if self._is_quiet else self._terminal.write(text)

    def flush(self) -> None:
        """Show what was written, unless it is to be quiet."""
        with self._lock:
            if not self._is_quiet:
                self._terminal.flush()

    def isatty(self) -> bool:
        """Whether it is a terminal."""
        return self._terminal.isatty()

    def fileno(self) -> int:
        """Its number."""
        return self._terminal.fileno()

    @property
    def encoding(self) -> str:  # type: ignore[override]
        """How letters are written on it."""
        return self._terminal.encoding


def _bar_of(what: str, screen: TextIO) -> "Progress":
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    console = Console(
        file=screen,
        color_system=None if os.environ.get("NO_COLOR") else "auto",
        width=columns_of_terminal(),
    )
    return Progress(
        TextColumn(what),
        BarColumn(bar_width=20),
        MofNCompleteColumn(),
        TextColumn("took"),
        TimeElapsedColumn(),
        TextColumn("left"),
        TimeRemainingColumn(),
        console=console,
        transient=True,
    )
