"""How much findings say that they will simulate again, beside what they then do."""

from collections.abc import Sequence
from typing import Any

import msgspec
import pytest

from radiosim.engine.simulate import Engine
from radiosim.findings import case, diagnosed, joint
from radiosim.measure.summary import Summary
from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.shipped import scenario_path
from radiosim.study.amount import Amount
from radiosim.study.starts import numbers_of, simulate_starts
from tests.bench.load import SIX

SLOW = ("smallest", "culvert-crawler", "twin-clocks", "six units")


@pytest.mark.parametrize(
    "name", ["long-pipe", *(pytest.param(name, marks=pytest.mark.slow) for name in SLOW)]
)
def test_what_findings_simulate_is_foreseen_within_a_factor_of_two(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = parse(SIX) if name == "six units" else load(scenario_path(name))
    starts, seconds = (1, 1.0) if name == "six units" else (6, 30.0)
    scenario = msgspec.structs.replace(given, starts=starts, duration_s=seconds, fault=())
    summary = simulate_starts(scenario, workers=1)
    told: list[float] = []
    done: list[float] = []

    def counted(again: Scenario, **how: Any) -> Summary:
        # Drills have a length of their own, however long the run.
        done.append(again.duration_s * how["count"] if again.duration_s == seconds else 0.0)
        return simulate_starts(again, **how)

    def counted_numbers(again: Scenario, start: int, engine: Engine) -> dict[str, float]:
        done.append(again.duration_s if again.duration_s == seconds else 0.0)
        return numbers_of(again, start, engine)

    def on_amounts(amounts: Sequence[Amount]) -> None:
        told.extend(amount.simulated_s for amount in amounts)

    monkeypatch.setattr(case, "simulate_starts", counted)
    monkeypatch.setattr(case, "numbers_of", counted_numbers)
    monkeypatch.setattr(joint, "simulate_starts", counted)
    diagnosed(scenario, summary, workers=1, on_amounts=on_amounts)

    assert sum(done) / 2 <= sum(told) <= sum(done) * 2
