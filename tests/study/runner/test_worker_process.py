"""A process of a pool whose owner is gone."""

import os
import subprocess
import sys

import pytest

from radiosim.study import worker_pool


@pytest.mark.parametrize("sent", [b"", b"\x05", (2**20).to_bytes(8, "little") + b"half"])
def test_it_ends_without_a_word_whenever_its_owner_is_gone(sent: bytes) -> None:
    # Where modules are found comes with its start: nothing that is cut off can be read wrongly.
    results, nobody_reads = os.pipe()
    os.close(results)
    try:
        ended = subprocess.run(
            [sys.executable, "-c", worker_pool._RUN, *sys.path],
            input=sent,
            stdout=nobody_reads,
            stderr=subprocess.PIPE,
            check=False,
        )
    finally:
        os.close(nobody_reads)

    assert ended.stderr == b""
    assert ended.returncode == 1
