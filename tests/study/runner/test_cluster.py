"""Points on a cluster: each in a process of its own, as a cluster leaves threads behind."""

import re
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Thread

import pytest

from radiosim.study.scheduler_check import why_no_address, why_no_scheduler

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


@contextmanager
def program_that(serves: Callable[[socket.socket], object]) -> Iterator[str]:
    """The address of a program that is none of a cluster's."""
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()

        def take_one() -> None:
            with suppress(OSError):
                serves(listening.accept()[0])

        thread = Thread(target=take_one, daemon=True)
        thread.start()
        yield f"tcp://127.0.0.1:{listening.getsockname()[1]}"


def garbles(caller: socket.socket) -> None:
    with caller:
        while True:
            caller.sendall(b"HTTP/1.1 400 Bad Request\r\n" * 100)


def hangs_up(caller: socket.socket) -> None:
    caller.close()


_KEPT: list[socket.socket] = []


@pytest.mark.slow
@pytest.mark.parametrize(
    ("serves", "told"),
    [
        (garbles, "must be the address of a scheduler, got another program at tcp://"),
        (hangs_up, "must be the address of a scheduler: (nothing came from )?tcp://"),
        (_KEPT.append, r"must be the address of a scheduler: nothing came from tcp://.* in 4 s"),
    ],
)
def test_a_program_that_is_no_scheduler_is_found_out_in_time(
    serves: Callable[[socket.socket], object], told: str
) -> None:
    with program_that(serves) as address:
        said = why_no_scheduler(address, 4.0)

    assert re.match(told, said), said


def test_a_port_that_nobody_listens_at_is_told_of() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{taken.getsockname()[1]}"
        said = why_no_scheduler(address, 4.0)

    assert said.startswith(f"must be the address of a scheduler: {address}: ")


@pytest.mark.parametrize(
    "address",
    [
        "nonsense",
        "tcp://",
        "tcp://a",
        "tcp://a:0",
        "tcp://a:99999",
        "a:b",
        "http://a:1",
        "ucx://a:1",
        "inproc://1/2/3",
        "ws://a:8786",
        "tcp://a:1/x",
    ],
)
def test_what_is_no_address_is_refused_without_a_look(address: str) -> None:
    said = why_no_address(address)

    assert said.startswith("must be the address of a scheduler, ")
    assert said.endswith(f"got {address}")


@pytest.mark.parametrize("address", ["tcp://a:8786", "127.0.0.1:1", "tls://[::1]:65535"])
def test_what_can_be_an_address_is_looked_at(address: str) -> None:
    assert not why_no_address(address)
