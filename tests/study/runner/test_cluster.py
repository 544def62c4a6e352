"""Points on a cluster: each in a process of its own, as a cluster leaves threads behind."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
pytest.importorskip("distributed")


def said_by(module: str, *arguments: str | Path) -> list[str]:
    """Lines that a module of these tests prints."""
    done = subprocess.run(
        [sys.executable, "-m", f"tests.study.runner.{module}", *map(str, arguments)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


@pytest.mark.slow
def test_a_cluster_that_loses_a_worker_gives_the_same_rows() -> None:
    assert said_by("on_a_cluster") == ["1 worker lost, the same rows"]


@pytest.mark.slow
def test_a_cluster_without_workers_or_with_dying_ones_is_refused_in_one_line() -> None:
    none, dying = said_by("a_poor_cluster")

    assert none.startswith("ClusterError: --cluster: must have workers: the scheduler at tcp://")
    assert none.endswith("has none after 0.2 s; start some there")
    assert dying.startswith("WorkersError: --cluster: workers of tcp://")


@pytest.mark.slow
def test_a_cluster_that_loses_every_worker_says_so_and_goes_on_with_a_new_one(
    tmp_path: Path,
) -> None:
    told, rows, kept = said_by("a_lost_cluster", tmp_path, "back")

    assert told.startswith("--cluster: no worker is left at ADDRESS: waiting")
    assert rows == "12 rows"
    assert kept == "12 kept, the same rows"


@pytest.mark.slow
def test_a_cluster_that_loses_every_worker_for_good_ends_in_one_line(tmp_path: Path) -> None:
    told, refused, kept = said_by("a_lost_cluster", tmp_path, "workers")

    assert told.startswith("--cluster: no worker is left at ADDRESS: waiting 0.4 s for one")
    assert refused == (
        "ClusterError: --cluster: must keep workers: ADDRESS has had none for 0.8 s; start some "
        "there (what --resume keeps stays)"
    )
    assert kept == "4 kept, the same rows"


@pytest.mark.slow
def test_a_cluster_that_loses_its_scheduler_ends_in_one_line(tmp_path: Path) -> None:
    refused, kept = said_by("a_lost_cluster", tmp_path, "scheduler")

    assert refused == (
        "ClusterError: --cluster: must keep its scheduler: ADDRESS is gone; start it again (what "
        "--resume keeps stays)"
    )
    assert kept == "4 kept, the same rows"


def test_a_cluster_that_is_not_there_is_refused() -> None:
    program = (
        "from radiosim.study.cluster import cluster_executor\n"
        "with cluster_executor('not an address'): pass\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )

    assert "ClusterError: --cluster: must be the address of a scheduler" in done.stderr
