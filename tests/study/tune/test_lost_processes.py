"""A tuning whose processes are killed under way finds what it finds undisturbed."""

import os
import signal
import sys
from pathlib import Path

import pytest

from radiosim.scenario import Scenario
from radiosim.study.starts import simulate_starts
from radiosim.study.tune import confirm
from radiosim.study.tune.tune_results import Tuned
from radiosim.study.tune.tuned import tune_scenario
from tests.study.tune.scenarios import two

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="children are looked for there")


def children() -> list[int]:
    """Processes that this one has started and that still run."""
    found = Path("/proc/self/task").glob("*/children")
    return [int(process) for path in found for process in path.read_text().split()]


def found(workers: int, journal: Path | None = None) -> Tuned:
    whole = two("starts=12", "duration_s=1")
    vary = ["transmitter.drive.period_ms=15,20,25"]
    return tune_scenario(whole, whole, vary=vary, starts=2, workers=workers, journal=journal)


@pytest.mark.slow
def test_a_process_killed_while_the_best_point_is_confirmed_changes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    killed: list[int] = []

    def disturbed(scenario: Scenario, **asked: object) -> object:
        def kill(done: int, _: int) -> None:
            if done and not killed:
                killed.extend(children())
                os.kill(killed[0], signal.SIGKILL)

        return simulate_starts(scenario, on_progress=kill, **asked)  # type: ignore[arg-type]

    undisturbed = found(1)
    monkeypatch.setattr(confirm, "simulate_starts", disturbed)
    journal = tmp_path / "journal"

    assert found(2, journal) == undisturbed
    assert killed
    assert undisturbed.confirmed
    # All points are in it: what is done again on it is the confirmation alone.
    assert len(journal.read_bytes().splitlines()) == 1 + 1 + len(undisturbed.points)
