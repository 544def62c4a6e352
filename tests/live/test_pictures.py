"""Pictures of the live page: their numbers are those of runs and of closed forms."""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from radiosim.report.live.near import near_picture
from radiosim.report.live.timeouts import trade_offs
from radiosim.scenario import Scenario, parse
from radiosim.study.live.looks import Outdated
from radiosim.study.starts import simulate_starts
from radiosim.study.tune.period_pairs import pairs_of

LOSSY = """
starts = 3
duration_s = 60
radio.profile = "gfsk-1M"
air.loss = 0.5
transmitter.drive = { period_ms = 20, payload_bytes = 6, acknowledge = false }
failsafe.drive = { timeout_ms = 115 }
"""


def pair(first_ms: float, second_ms: float) -> Scenario:
    """Two transmitters whose clocks are right."""
    return parse(
        f"""
radio.profile = "gfsk-1M"
transmitter.a = {{ period_ms = {first_ms}, payload_bytes = 6, clock_ppm = 0 }}
transmitter.b = {{ period_ms = {second_ms}, payload_bytes = 6, clock_ppm = 0 }}
"""
    )


@pytest.mark.parametrize(
    ("first_ms", "second_ms", "distance_ms", "title"),
    [
        (20, 23, 3, "No two periods beat"),
        (20, 41, 1, "No two periods beat"),
        (20, 40, 0, "The periods of a and b beat"),
    ],
)
def test_periods_are_as_far_from_beating_as_from_a_multiple(
    first_ms: float, second_ms: float, distance_ms: float, title: str
) -> None:
    made = near_picture(pairs_of(pair(first_ms, second_ms)))

    (found,) = made["data"]["pairs"]
    assert found["distance_ms"] == pytest.approx(distance_ms)
    assert found["is_beating"] == (found["distance_ms"] < found["window_ms"])
    assert made["title"] == title


def test_trips_at_the_own_timeout_are_those_of_the_run() -> None:
    given = parse(LOSSY)
    run = simulate_starts(given).figures.stream["drive"].failsafe
    assert run is not None
    assert run.nuisance_trips > 0

    (made,) = (said["figure"] for said in trade_offs(given, lambda: False))

    data = made["data"]
    assert data["now_ms"] == 115
    place = data["timeout_ms"].index(115)
    assert data["nuisance_per_hour"][place] == pytest.approx(run.nuisance_trips / (3 * 60 / 3600))
    assert "From 3 starts without the scenario's faults" in made["text"]


@pytest.mark.slow
def test_an_answer_with_all_its_pictures_loads_no_library_that_paints(tmp_path: Path) -> None:
    path = tmp_path / "lossy.toml"
    path.write_text(LOSSY)
    code = f"""
import sys
from pathlib import Path
from radiosim.live.desk import Desk
desk = Desk(Path({str(path)!r}), "lossy")
said = [line() if callable(line) else [line] for line in
        desk.answer(desk.read({{"set": {{}}}}), lambda: False)]
lines = [line for part in said for line in part]
print(sum(b'"figure"' in line for line in lines), "matplotlib" in sys.modules)
"""

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert done.stdout.split() == ["2", "False"]


def test_timeouts_are_left_as_soon_as_nobody_waits() -> None:
    asked: Iterator[bool] = iter([False, False, True])

    with pytest.raises(Outdated):
        list(trade_offs(parse(LOSSY), lambda: next(asked)))
