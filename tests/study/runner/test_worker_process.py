"""A process of a pool whose owner is gone."""

import os
import pickle
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from radiosim.study import worker_pool
from radiosim.study.worker_process import send


@contextmanager
def process() -> Iterator["subprocess.Popen[bytes]"]:
    """One whose results nobody reads."""
    results, nobody_reads = os.pipe()
    os.close(results)
    with subprocess.Popen(
        [sys.executable, "-c", worker_pool._RUN, *sys.path],
        stdin=subprocess.PIPE,
        stdout=nobody_reads,
        stderr=subprocess.PIPE,
    ) as begun:
        os.close(nobody_reads)
        yield begun


@pytest.mark.parametrize("sent", [b"", (2**20).to_bytes(8, "little") + b"half"])
def test_it_ends_without_a_word_when_its_owner_is_gone(sent: bytes) -> None:
    # Where modules are found comes with its start: nothing that is cut off can be read wrongly.
    with process() as begun:
        _, said = begun.communicate(sent)

    assert (begun.returncode, said) == (1, b"")


def test_it_ends_without_a_word_when_its_result_is_wanted_no_more() -> None:
    with process() as begun:
        assert begun.stdin is not None
        send(begun.stdin, pickle.dumps((abs, (-1,))))
        begun.stdin.flush()
        assert begun.wait() == 1
        assert begun.stderr is not None
        assert begun.stderr.read() == b""
