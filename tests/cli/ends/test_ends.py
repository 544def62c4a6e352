"""Commands that a signal ends at any instant."""

import random
import sys
from pathlib import Path

import pytest

from tests.cli.ends.ended import COMMANDS, SIGNALS, ended, wrong_with

INSTANTS = 48
pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="what is left is looked for there")


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_whenever_a_signal_comes_nothing_is_left_and_nothing_is_half_written(
    command: str, tmp_path: Path
) -> None:
    draws = random.Random(command)
    # The first may have to compile; instants are drawn from the time that the second takes.
    for name in ("first", "whole"):
        (tmp_path / name).mkdir()
        whole = ended(command, tmp_path / name, SIGNALS[0], None)
        assert not wrong_with(whole, SIGNALS[0], tmp_path / name)

    stopped = 0
    for number in range(INSTANTS // len(COMMANDS)):
        folder = tmp_path / str(number)
        folder.mkdir()
        signal = draws.choice(SIGNALS)
        found = ended(command, folder, signal, draws.uniform(0, whole.seconds))
        assert not wrong_with(found, signal, folder)
        stopped += found.code == 128 + signal
    assert stopped, "no instant was within the command"
