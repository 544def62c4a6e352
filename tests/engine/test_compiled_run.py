"""Runs that stand still and are copied."""

from collections.abc import Iterable
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine import fast
from radiosim.engine.plan import make_plan
from radiosim.scenario import Scenario, parse
from radiosim.trace import CHANCE
from tests.engines.random_scenarios import scenarios
from tests.examples import examples

LOSSY = parse(
    """
duration_s = 2
radio.profile = "gfsk-1M"
air.loss = 0.3
receiver.boot_s = 0
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 6, jitter_ms = 2 }
"""
)


def rows_of(chunks: Iterable[fast.Chunk], name: str) -> list[Any]:
    return [row for chunk in chunks for row in chunk[name].tolist()]


@given(scenarios, st.lists(st.integers(0, 120_000_000), max_size=5).map(sorted))
@examples(100)
def test_standing_still_changes_nothing(given: Scenario, stops_ns: list[int]) -> None:
    plan = make_plan(given, 0)
    run = fast.begin(plan)
    for stop_ns in (*stops_ns, plan.until_ns):
        for chunk in run.run_until(stop_ns):
            written = {name: table.copy() for name, table in chunk.items()}
            assert all((table["end_ns"] <= stop_ns).all() for table in (written["attempts"],))
    whole, again = fast.run(plan), fast.begin(plan)
    attempts = []
    for stop_ns in (*stops_ns, plan.until_ns):
        attempts += rows_of(again.run_until(stop_ns), "attempts")

    assert attempts == whole["attempts"].tolist()


def test_a_copy_has_the_same_past_and_another_future() -> None:
    plan, at_ns = make_plan(LOSSY, 0), 1_000_000_000
    run = fast.begin(plan)
    before = rows_of(run.run_until(at_ns), "attempts")
    futures = [rows_of(run.copy(branch).run_until(plan.until_ns), "attempts") for branch in (1, 2)]
    own = rows_of(run.run_until(plan.until_ns), "attempts")

    assert before + own == fast.run(plan)["attempts"].tolist()
    assert futures[0] != futures[1]
    assert own not in futures


def test_a_copy_of_the_branch_that_ran_goes_the_same_way() -> None:
    plan, at_ns = make_plan(LOSSY, 0), 700_000_000
    run = fast.begin(plan)
    for _ in run.run_until(at_ns):
        pass
    twin = rows_of(run.copy(0).run_until(plan.until_ns), "reads")

    assert twin == rows_of(run.run_until(plan.until_ns), "reads")


def test_futures_lose_as_often_as_the_air_says() -> None:
    plan = make_plan(LOSSY, 0)
    run = fast.begin(plan)
    for _ in run.run_until(200_000_000):
        pass
    fates = [
        row[-1]
        for branch in range(1, 101)
        for row in rows_of(run.copy(branch).run_until(plan.until_ns), "attempts")
    ]
    lost, total = fates.count(CHANCE), len(fates)

    # 0.3 of some 12,000 attempts: standard error 0.004; four of them fail one time in 16,000.
    assert abs(lost / total - 0.3) < 4 * (0.3 * 0.7 / total) ** 0.5
