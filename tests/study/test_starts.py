"""Every start of a scenario."""

import itertools
import os
import signal
import subprocess
import sys
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import msgspec
import pytest

from radiosim.engine.simulate import simulate
from radiosim.measure import Summary
from radiosim.measure.start import tally_start
from radiosim.measure.summarise import summary_of
from radiosim.scenario import parse
from radiosim.study.starts import (
    Narrow,
    NarrowError,
    looks_of,
    narrow_of,
    simulate_starts,
    until_narrow,
)
from radiosim.study.worker_pool import WorkersError, worker_pool
from tests.traces import scenario_with

ROOT = Path(__file__).parents[2]
SCENARIO = scenario_with(
    "duration_s=0.2", "air.loss=0.2", "starts=3", "transmitter.drive.offset_ms='drawn'"
)


class Backwards(Executor):
    """Runs what it is given, the last first, when the first result is asked for."""

    def __init__(self) -> None:
        self.waiting: list[tuple[Future[Any], Any, tuple[Any, ...]]] = []

    def submit(self, call: Any, /, *arguments: Any, **_: Any) -> Future[Any]:
        future: Future[Any] = Future()
        self.waiting.append((future, call, arguments))
        if len(self.waiting) == 3:
            for waiting, wanted, given in reversed(self.waiting):
                waiting.set_result(wanted(*given))
        return future


@pytest.fixture(scope="module")
def summary() -> Summary:
    return simulate_starts(SCENARIO, workers=1)


def test_the_scenario_says_how_many_starts(summary: Summary) -> None:
    assert (summary.starts, summary.first_start) == (3, 0)


@pytest.mark.parametrize("executor", [ThreadPoolExecutor(2), Backwards()])
def test_the_result_does_not_depend_on_who_computes_it(
    summary: Summary, executor: Executor
) -> None:
    assert simulate_starts(SCENARIO, executor=executor) == summary


@pytest.mark.slow
def test_a_pool_of_processes_gives_the_same(summary: Summary) -> None:
    assert simulate_starts(SCENARIO, workers=2) == summary


@pytest.mark.parametrize("executor", [ThreadPoolExecutor(2), Backwards()])
def test_curves_do_not_depend_on_who_computes_them(executor: Executor) -> None:
    alone = simulate_starts(SCENARIO, workers=1, has_curves=True)

    assert alone.curves is not None
    assert simulate_starts(SCENARIO, executor=executor, has_curves=True) == alone


def test_curves_are_there_only_when_asked_for(summary: Summary) -> None:
    with_curves = simulate_starts(SCENARIO, workers=1, has_curves=True)

    assert summary.curves is None
    assert msgspec.structs.replace(with_curves, curves=None) == summary


def test_starts_may_begin_anywhere() -> None:
    found = simulate_starts(SCENARIO, first=7, count=2, workers=1)

    assert (found.starts, found.first_start) == (2, 7)


def test_every_start_is_another(summary: Summary) -> None:
    reads = {
        tally_start(simulate(SCENARIO, start=k)).streams["drive"].latency.moment for k in range(3)
    }

    assert len(reads) == 3


def test_progress_is_told_start_by_start() -> None:
    told: list[tuple[int, int]] = []

    simulate_starts(SCENARIO, workers=1, on_progress=lambda done, total: told.append((done, total)))

    assert told == [(0, 3), (1, 3), (2, 3), (3, 3)]


@pytest.mark.parametrize(("first", "count"), [(-1, 2), (0, 0), (0, -3)])
def test_no_starts_are_refused(first: int, count: int) -> None:
    with pytest.raises(
        ValueError, match=f"first must be >= 0 and count >= 1, got {first} and {count}"
    ):
        simulate_starts(SCENARIO, first=first, count=count)


def test_what_a_start_raises_comes_through() -> None:
    class Broken(Executor):
        def submit(self, call: Any, /, *arguments: Any, **_: Any) -> Future[Any]:
            future: Future[Any] = Future()
            future.set_exception(RuntimeError("no worker"))
            return future

    with pytest.raises(RuntimeError, match="no worker"):
        simulate_starts(SCENARIO, executor=Broken())


PROGRAM = """
from radiosim.study.worker_pool import worker_pool
from tests.study.test_starts import busy

# No guard against being run again, as nobody needs one.
with worker_pool(2) as pool:
    list(pool.map(busy, range(2)))
"""


def busy(_: int) -> None:
    """Says that it is there, and goes on for ever."""
    os.write(2, b"busy\n")
    for _ in itertools.count():
        pass


@pytest.mark.slow
def test_workers_end_with_a_parent_that_was_killed(tmp_path: Path) -> None:
    program = tmp_path / "program.py"
    program.write_text(PROGRAM, encoding="utf-8")
    with subprocess.Popen(
        [sys.executable, program],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stderr=subprocess.PIPE,
        text=True,
    ) as running:
        assert running.stderr is not None
        try:
            assert [running.stderr.readline() for _ in range(2)] == ["busy\n"] * 2
        finally:
            running.send_signal(signal.SIGKILL)

        # Ends only when nobody holds the other end any more: no worker is left.
        assert running.communicate(timeout=60)[1] == ""


def dies(_: int) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


@pytest.mark.slow
def test_a_process_that_is_lost_is_told_in_one_line() -> None:
    with (
        pytest.raises(WorkersError, match=r"^--workers: .* try fewer than 2$"),
        worker_pool(2) as pool,
    ):
        list(pool.map(dies, range(4)))


def test_nothing_that_tests_import_lets_a_broken_pipe_kill_them() -> None:
    # The way to processes that are lost is such a pipe: the caller would vanish without a word.
    assert signal.getsignal(signal.SIGPIPE) is signal.SIG_IGN


QUICK = """
duration_s = 0.5
# All units are up at once: what is missed while they boot is not what is counted here.
radio = { profile = "gfsk-1M", settle_us = 0, crystal_start_us = 0, power_on_reset_ms = 0 }
receiver = { boot_s = 0, read = "all" }
output.none = { stream = "drive", field = "value", kind = "pin" }
"""
INDEPENDENT = parse(
    QUICK
    + """
air.loss = 0.2
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 12, acknowledge = false, \
clock_ppm = 0 }
"""
)

FIGURE = "stream.drive.delivery_ratio"


def test_looks_double_and_end_with_the_budget() -> None:
    assert looks_of(64) == (8, 16, 32, 64)
    assert looks_of(50) == (8, 16, 32, 50)
    assert looks_of(4) == (4,)


def test_it_stops_as_soon_as_it_is_narrow_enough_and_at_the_budget_if_never() -> None:
    wide = until_narrow(INDEPENDENT, Narrow(figure=FIGURE, half_width=0.2), 64)
    narrower = until_narrow(INDEPENDENT, Narrow(figure=FIGURE, half_width=0.05), 64)
    never = until_narrow(INDEPENDENT, Narrow(figure=FIGURE, half_width=1e-6), 20)

    assert (len(wide.tallies), wide.is_narrow) == (8, True)
    assert 8 < len(narrower.tallies) <= 64
    assert narrower.is_narrow
    assert (len(never.tallies), never.is_narrow) == (20, False)


def test_each_look_has_its_share_of_the_chance_to_miss() -> None:
    found = until_narrow(INDEPENDENT, Narrow(figure=FIGURE, half_width=1e-6), 32)
    plain = summary_of(INDEPENDENT, found.tallies).figures.stream["drive"].delivery_ratio_ci95

    # Student's t of 31 degrees of freedom: of 5 % over three looks 2.531, of 5 % 2.040.
    assert found.interval is not None
    assert isinstance(plain, tuple)
    assert (found.interval[1] - found.interval[0]) / (plain[1] - plain[0]) == pytest.approx(
        2.531 / 2.040, abs=1e-3
    )


def test_what_comes_out_depends_on_the_scenario_and_the_question_alone() -> None:
    asked = Narrow(figure=FIGURE, half_width=0.05)
    one, again = (until_narrow(INDEPENDENT, asked, 64) for _ in range(2))

    assert one.interval == again.interval
    assert [tally.start for tally in one.tallies] == list(range(len(again.tallies)))


@pytest.mark.parametrize(
    "text",
    [
        "stream.drive.gap_ms.max=1",
        "stream.none.delivery_ratio=0.1",
        "stream.drive.failsafe.nuisance_per_hour=1",
        "stream.drive.delivery_ratio",
        "stream.drive.delivery_ratio=0",
        "stream.drive.delivery_ratio=nan",
    ],
)
def test_a_figure_without_an_interval_and_no_width_are_refused(text: str) -> None:
    with pytest.raises(NarrowError, match=r"--narrow: must be"):
        narrow_of(text, INDEPENDENT)


BEATING = """
duration_s = 0.5
radio.profile = "gfsk-1M"
receiver = { read = "all", boot_s = 0 }
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 6, acknowledge = false }
transmitter.head = { boot_s = 0, period_ms = PERIOD, payload_bytes = 6, acknowledge = false }
"""


@pytest.mark.parametrize(
    ("period", "starts", "has_interval"),
    [("20", 11, False), ("20", 12, True), ("23", 6, True)],
    ids=["few of them placed on beats", "enough of them", "few, none of them placed"],
)
def test_shares_of_few_starts_that_are_weighted_have_no_interval(
    period: str, starts: int, has_interval: bool
) -> None:
    scenario = parse(BEATING.replace("PERIOD", period))
    stream = simulate_starts(scenario, count=starts, workers=1).figures.stream["drive"]

    for interval in (stream.delivery_ratio_ci95, stream.update_rate_hz_ci95):
        assert (interval is not None) == has_interval
