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
    (tmp_path / "whole").mkdir()
    whole = ended(command, tmp_path / "whole", SIGNALS[0], None)
    assert not wrong_with(whole, SIGNALS[0], tmp_path / "whole")

    stopped = 0
    for number in range(INSTANTS // len(COMMANDS)):
        folder = tmp_path / str(number)
        folder.mkdir()
        signal = draws.choice(SIGNALS)
        found = ended(command, folder, signal, draws.uniform(0, whole.seconds))
        assert not wrong_with(found, signal, folder)
        stopped += found.code == 128 + signal
    assert stopped, "no instant was within the command"
