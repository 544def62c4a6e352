"""What takes longer than a minute says so first, from what its first start costs."""

import math
from collections.abc import Iterator, Sequence

import msgspec
import pytest

from radiosim.cli import foretold
from radiosim.cli.foretold import foretell
from radiosim.errors import OptionError
from radiosim.scenario import Scenario, load
from radiosim.scenario.shipped import scenario_path
from radiosim.scenario.traffic import latest_boot_s
from radiosim.study.amount import Amount
from tests.cli.typed import typed


@pytest.fixture
def smallest() -> Scenario:
    return load(scenario_path("smallest"))


def clock_of(costs: float) -> tuple[list[Scenario], Iterator[float]]:
    """What was tried, and a clock by which each simulated second takes so many."""
    tried: list[Scenario] = []

    def ticks() -> Iterator[float]:
        now = 0.0
        while True:
            yield now
            now += costs * tried[-1].duration_s
            yield now

    return tried, ticks()


@pytest.mark.parametrize(
    ("costs", "workers", "told"),
    [
        (1e-3, 1, "this will take about 60 minutes, as its first start goes: 1,000 simulated "),
        (1e-3, 2, "this will take about 30 minutes"),
        (1.0, 2, "this will take about 21 days"),
        (1e-2, 1, "this will take about 10 hours"),
        (2e-5, 1, "this will take about 72 seconds"),
        (1e-6, 1, ""),
    ],
)
def test_what_takes_long_is_told_by_what_its_first_start_costs(
    smallest: Scenario,
    costs: float,
    workers: int,
    told: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    tried, ticks = clock_of(costs)
    amount = Amount(scenario=smallest, simulated_s=3.6e6, simulate=tried.append)

    foretell((amount,), "fast", workers, clock=lambda: next(ticks))

    assert capsys.readouterr().err.startswith(told)
    # The untimed one is among them: never more of a start than there is, nor the whole at once.
    assert tried[0].duration_s == foretold.SHORTEST_S + latest_boot_s(smallest)
    assert max(one.duration_s for one in tried) <= smallest.duration_s


def test_the_time_in_which_units_boot_costs_next_to_nothing(
    smallest: Scenario, capsys: pytest.CaptureFixture[str]
) -> None:
    """A second takes a millisecond, once the receiver is up."""
    given = msgspec.structs.replace(
        smallest, receiver=msgspec.structs.replace(smallest.receiver, boot_s=8)
    )
    tried: list[Scenario] = []

    def ticks() -> Iterator[float]:
        now = 0.0
        while True:
            yield now
            now += 1e-3 * (tried[-1].duration_s - 8)
            yield now

    clock = ticks()
    amount = Amount(scenario=given, simulated_s=3.6e6, simulate=tried.append)
    foretell((amount,), "fast", 1, clock=lambda: next(clock))

    assert capsys.readouterr().err.startswith("this will take about 60 minutes")


def test_nothing_is_tried_where_a_minute_is_out_of_reach(
    smallest: Scenario, capsys: pytest.CaptureFixture[str]
) -> None:
    tried: list[Scenario] = []

    foretell((Amount(scenario=smallest, simulated_s=60, simulate=tried.append),), "fast", 1)

    assert not tried
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(
    ("words", "simulated_s"),
    [
        ("run smallest --starts 2 --duration-s 3", 2 * 3),
        ("range harbour-tug --points 2 --starts 1 --duration-s 4", 3 * 2 * 4),
        ("tune smallest --points 2 --starts 1 --duration-s 3", 2 * 3),
        ("failsafe smallest --hours 1", 3600),
        ("bench-test smallest --starts 3 --minutes 2", 3 * 120),
    ],
)
def test_every_command_that_simulates_foretells_first(
    words: str, simulated_s: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[float] = []

    def stop(amounts: Sequence[Amount], *_: object, **__: object) -> None:
        asked.append(math.fsum(one.simulated_s for one in amounts))
        raise OptionError("told")

    monkeypatch.setattr(foretold, "foretell", stop)

    assert typed(*words.split()).err.splitlines()[-1] == "told"
    assert asked[0] >= simulated_s
