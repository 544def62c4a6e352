"""A cluster that is lost under way: `python -m … FOLDER WHAT` says what came of it.

WHAT: `back` loses every worker, and one comes back; `workers` loses them for good; `scheduler`
loses all of it. A process of its own: the cluster leaves threads behind, which other tests must not
have any.
"""

import functools
import subprocess
import sys
from pathlib import Path

import distributed

from radiosim.errors import RadiosimError
from radiosim.study.cluster import Patience, cluster_executor
from radiosim.study.journal import Row
from radiosim.study.run_points import run_points

POINTS = tuple(range(12))
EASY = 4
"""Points that are done before the loss; the others wait for it."""
PATIENCE = {
    "back": Patience(tell_s=0.4, end_s=120, look_s=0.1),
    "workers": Patience(tell_s=0.4, end_s=0.8, look_s=0.1),
    "scheduler": Patience(),
}


def held_up(place: Path, point: int) -> Row:
    """Done only after the loss, unless it is an easy one."""
    while point >= EASY and not place.exists():
        pass
    return {"z": point**2}


def started(address: str) -> subprocess.Popen[bytes]:
    """A worker that nobody starts again."""
    options = ("--no-nanny", "--nthreads", "1", "--no-dashboard")
    command = (sys.executable, "-m", "distributed.cli.dask_worker", address, *options)
    return subprocess.Popen(command, stderr=subprocess.DEVNULL)


def lose(what: str, place: Path, journal: Path) -> None:
    """Print what is said when it is lost half way."""
    work = functools.partial(held_up, place)
    cluster = distributed.LocalCluster(n_workers=0, dashboard_address=None)  # type: ignore[no-untyped-call]
    address = cluster.scheduler_address
    workers = [started(address) for _ in range(2)]

    def lose_it(done: int, _: int) -> None:
        if done != EASY:
            return
        for worker in workers:
            worker.kill()
            worker.wait()
        place.touch()
        if what == "scheduler":
            cluster.close()  # type: ignore[no-untyped-call]

    def told(text: str) -> None:
        print(text.replace(address, "ADDRESS"))
        if what == "back":
            workers.append(started(address))

    try:
        with cluster_executor(address, 60, told, PATIENCE[what]) as executor:
            how = {"digest": "d", "journal": journal, "executor": executor, "on_progress": lose_it}
            print(len(run_points(work, POINTS, fold=tuple, **how)), "rows")  # type: ignore[arg-type]
    except RadiosimError as error:
        print(f"{type(error).__name__}: {error}".replace(address, "ADDRESS"))
    finally:
        for worker in workers:
            worker.kill()
        cluster.close()  # type: ignore[no-untyped-call]


def main() -> None:
    """Lose it, then go on alone from what was kept."""
    place, journal = Path(sys.argv[1]) / "lost", Path(sys.argv[1]) / "journal"
    lose(sys.argv[2], place, journal)
    kept = journal.read_text(encoding="utf-8").count("\n") - 1
    work = functools.partial(held_up, place)
    rows = run_points(work, POINTS, fold=tuple, digest="d", journal=journal, workers=1)
    alone = run_points(work, POINTS, fold=tuple, digest="d", workers=1)
    print(kept, "kept,", "the same rows" if repr(rows) == repr(alone) else "other rows")


if __name__ == "__main__":
    main()
