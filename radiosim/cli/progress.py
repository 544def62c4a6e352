"""Progress on standard error, for a person who looks on."""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Timer

OnProgress = Callable[[int, int], None]

PATIENCE_S = 1.5
"""A run that is over by then shows no bar."""


@contextmanager
def progress(
    total: int, patience_s: float = PATIENCE_S, what: str = "starts"
) -> Iterator[OnProgress | None]:
    """What to call with (done, total); None without a terminal.

    A run that takes longer than `patience_s` after the first call gets a bar with the time it has
    taken and has left. No thread starts before that call: processes are forked without any.
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn(what),
        BarColumn(bar_width=20),
        MofNCompleteColumn(),
        TextColumn("took"),
        TimeElapsedColumn(),
        TextColumn("left"),
        TimeRemainingColumn(),
    )
    console = Console(stderr=True, color_system=None if os.environ.get("NO_COLOR") else "auto")
    bar = Progress(*columns, console=console, transient=True)
    task = bar.add_task(what, total=total)
    # The first start may take long: the bar must not wait for it.
    patience = Timer(patience_s, bar.start)
    patience.daemon = True
    is_patient = False

    def update(done: int, total: int) -> None:
        nonlocal is_patient
        if not is_patient:
            is_patient = True
            patience.start()
        bar.update(task, completed=done, total=total)

    try:
        yield update
    finally:
        patience.cancel()
        if is_patient:
            patience.join()
        bar.stop()
