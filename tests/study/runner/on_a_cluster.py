"""A study on a cluster of two workers of which one is killed: `python -m …` says what came of it.

A process of its own: the cluster leaves threads behind, and tests must not have any.
"""

import os
import signal

import distributed

from radiosim.study.cluster import cluster_executor
from radiosim.study.journal import Row
from radiosim.study.run_points import run_points

POINTS = tuple(range(40))


def slow(point: int) -> Row:
    """Long enough for a worker to be lost under way."""
    total = 0
    for k in range(300_000):
        total += k % (point + 1)
    return {"total": total}


def main() -> None:
    """Compare the rows with those of one process; prints how many workers were lost."""
    alone = run_points(slow, POINTS, fold=tuple, digest="d", workers=1)
    lost: list[int] = []
    with distributed.LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=2, threads_per_worker=1, dashboard_address=None
    ) as cluster:

        def lose_one(done: int, _: int) -> None:
            if done == 10 and not lost:
                nanny = next(iter(cluster.workers.values()))
                lost.append(nanny.pid)
                os.kill(nanny.pid, signal.SIGKILL)

        with cluster_executor(cluster.scheduler_address) as executor:
            rows = run_points(
                slow, POINTS, fold=tuple, digest="d", executor=executor, on_progress=lose_one
            )
    same = "the same rows" if repr(rows) == repr(alone) else "other rows"
    print(f"{len(lost)} worker lost, {same}")


if __name__ == "__main__":
    main()
