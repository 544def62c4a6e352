"""How a command simulates: on which engine, where, and with progress for a person who looks on."""

import os
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from contextlib import contextmanager, nullcontext
from threading import Timer
from typing import TYPE_CHECKING, TypedDict

from radiosim.cli.console import tell
from radiosim.cli.options import Simulates, Stoppable

if TYPE_CHECKING:
    from radiosim.engine.choice import Engine
    from radiosim.scenario import Scenario

OnProgress = Callable[[int, int], None]

PATIENCE_S = 1.5
"""A run that is over by then shows no bar."""


class How(TypedDict):
    """Arguments of every study."""

    engine: "Engine"
    executor: Executor | None
    workers: int | None
    on_progress: OnProgress | None


@contextmanager
def running(options: Simulates, scenario: "Scenario", total: int, what: str) -> Iterator[How]:
    """Everything that a study takes to run as the options say; `total` of `what` is its work.

    Raises ClusterError.
    """
    from radiosim.study.cluster import cluster_executor

    engine = ready_engine(options.engine, scenario)
    address = options.cluster if isinstance(options, Stoppable) else None
    with (
        nullcontext() if address is None else cluster_executor(address, tell=tell) as executor,
        progress(total, what=what) as on_progress,
    ):
        yield How(
            engine=engine, executor=executor, workers=options.workers, on_progress=on_progress
        )


def ready_engine(wish: str, scenario: "Scenario") -> "Engine":
    """The engine that serves, ready to run; says on standard error what a user should know."""
    from radiosim.engine.choice import ENGINES, make_ready
    from radiosim.engine.plan import make_plan
    from radiosim.measure.start import make_folds_ready

    (named,) = (engine for engine in ENGINES if engine == wish)
    chosen = make_ready(
        named,
        make_plan(scenario, 0),
        lambda: tell("compiling the engine, this once: up to a minute"),
    )
    make_folds_ready(scenario, chosen.engine)
    if chosen.why_not_fast:
        tell(f"{chosen.why_not_fast}: the reference engine serves (same figures, slower)")
    return chosen.engine


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
