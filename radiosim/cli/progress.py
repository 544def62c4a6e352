"""Progress on standard error, for a person who looks on."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

OnProgress = Callable[[int, int], None]


@contextmanager
def progress(starts: int) -> Iterator[OnProgress | None]:
    """What to call with (done, total): draws a bar with the time left; None without a terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
    from rich.progress import TimeRemainingColumn as TimeLeft

    columns = (
        TextColumn("starts"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("time left"),
        TimeLeft(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starts", total=starts)
        yield lambda done, total: bar.update(task, completed=done, total=total)
