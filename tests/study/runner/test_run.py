"""Points on any executor."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from radiosim.study.runner.journal import JournalError, Row
from radiosim.study.runner.run import ClusterError, cluster_executor, run_points

POINTS = tuple(range(40))


def squared(point: int) -> Row:
    return {"z": point**2, "a": [point / 7]}


def ran(**how: Any) -> tuple[Row, ...]:
    return run_points(squared, POINTS, digest="d", **how)


def test_rows_come_in_order_of_the_points_on_every_executor() -> None:
    alone = ran(workers=1)

    assert [row["z"] for row in alone] == [point**2 for point in POINTS]
    assert ran(workers=2) == alone
    with ThreadPoolExecutor(3) as pool:
        assert ran(executor=pool) == alone


def test_what_is_in_the_journal_is_not_worked_out_again(tmp_path: Path) -> None:
    done: list[int] = []

    def counted(point: int) -> Row:
        done.append(point)
        if len(done) == 7:
            raise KeyboardInterrupt
        return squared(point)

    with pytest.raises(KeyboardInterrupt):
        run_points(counted, POINTS, digest="d", journal=tmp_path / "j", workers=1)
    assert done == list(range(7))
    rows = run_points(counted, POINTS, digest="d", journal=tmp_path / "j", workers=1)
    assert done == [*range(7), *range(6, 40)]
    assert repr(rows) == repr(ran(workers=1))


def test_progress_counts_what_was_done_before(tmp_path: Path) -> None:
    seen: list[tuple[int, int]] = []
    run_points(squared, POINTS[:5], digest="d", journal=tmp_path / "j", workers=1)
    ran(workers=1, on_progress=lambda done, total: seen.append((done, total)))

    assert seen[0] == (0, 40)
    assert seen[-1] == (40, 40)
    seen.clear()
    run_points(
        squared,
        POINTS[:5],
        digest="d",
        journal=tmp_path / "j",
        on_progress=lambda done, total: seen.append((done, total)),
    )
    assert seen == [(5, 5)]


def test_a_full_disk_loses_nothing_that_was_kept(tmp_path: Path, monkeypatch: Any) -> None:
    import os

    real, calls = os.fsync, []

    def full(number: int) -> None:
        calls.append(number)
        if len(calls) > 4:
            raise OSError(28, "No space left on device")
        real(number)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(JournalError, match=r"No space left.*--resume"):
        ran(workers=1, journal=tmp_path / "j")
    monkeypatch.undo()
    assert repr(ran(workers=1, journal=tmp_path / "j")) == repr(ran(workers=1))


def slow(point: int) -> Row:
    """Long enough for a worker to be lost under way."""
    total = 0
    for k in range(300_000):
        total += k % (point + 1)
    return {"total": total}


@pytest.mark.slow
def test_a_cluster_that_loses_a_worker_gives_the_same_rows() -> None:
    distributed = pytest.importorskip("distributed")
    alone = run_points(slow, POINTS, digest="d", workers=1)

    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None
    ) as cluster:
        lost: list[int] = []

        def lose_one(done: int, _: int) -> None:
            if done == 10 and not lost:
                nanny = next(iter(cluster.workers.values()))
                lost.append(nanny.pid)
                nanny.process.process.kill()

        with cluster_executor(cluster.scheduler_address) as executor:
            rows = run_points(slow, POINTS, digest="d", executor=executor, on_progress=lose_one)
    assert lost
    assert repr(rows) == repr(alone)


def test_a_cluster_that_is_not_there_is_refused() -> None:
    pytest.importorskip("distributed")
    with (
        pytest.raises(ClusterError, match="must be the address of a scheduler"),
        cluster_executor("not an address"),
    ):
        pass
