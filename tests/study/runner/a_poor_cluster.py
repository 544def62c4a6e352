"""A cluster without a worker, then one whose workers die: `python -m …` says what came of each.

A process of its own: the cluster leaves threads behind, and tests must not have any.
"""

import os
import signal

import dask
import distributed

from radiosim.errors import RadiosimError
from radiosim.study.cluster import cluster_executor
from radiosim.study.journal import Row
from radiosim.study.run_points import run_points


def dies(point: int) -> Row:
    """Takes its worker down with it."""
    os.kill(os.getpid(), signal.SIGKILL)
    return {"point": point}


def main() -> None:
    """Print what is said of either."""
    # One worker lost is enough to give a point up.
    dask.config.set({"distributed.scheduler.allowed-failures": 0})
    for workers, within_s in ((0, 0.2), (1, 10.0)):
        with distributed.LocalCluster(  # type: ignore[no-untyped-call]
            n_workers=workers, threads_per_worker=1, dashboard_address=None
        ) as cluster:
            try:
                with cluster_executor(cluster.scheduler_address, within_s) as executor:
                    run_points(dies, (1, 2), fold=tuple, digest="d", executor=executor)
            except RadiosimError as error:
                print(f"{type(error).__name__}: {error}")


if __name__ == "__main__":
    main()
