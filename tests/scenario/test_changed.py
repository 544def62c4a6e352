""""""

import msgspec
import pytest

from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.changed import as_file, problems_of_scenario
from radiosim.scenario.complete import completed
from radiosim.scenario.shipped import shipped_scenarios
from tests.scenario.scenarios import FULL, SMALLEST

SOUND = {
    "smallest": parse(SMALLEST),
    "full": parse(FULL),
    **{given.name: load(given.path) for given in shipped_scenarios()},
}


@pytest.mark.parametrize("name", SOUND)
def test_a_scenario_of_a_scenario_has_no_problems(name: str) -> None:
    assert problems_of_scenario(SOUND[name]) == ()


@pytest.mark.parametrize("name", SOUND)
def test_a_scenario_as_a_file_is_completed_to_itself(name: str) -> None:
    scenario = SOUND[name]
    said = msgspec.structs.replace(scenario, assumed=(), warnings=(), given=())
    again = completed(as_file(scenario), {}, scenario.name)

    assert msgspec.structs.replace(again, assumed=(), warnings=(), given=()) == said


def changed(**keys: object) -> Scenario:
    return msgspec.structs.replace(SOUND["smallest"], **keys)


def test_what_no_scenario_may_say_is_told_with_its_path() -> None:
    unit = msgspec.structs.replace(SOUND["smallest"].transmitter["drive"], period_ms=-5.0)

    assert problems_of_scenario(changed(transmitter={"drive": unit})) == (
        (
            ("transmitter", "drive", "period_ms"),
            "must be a number >= 0.001 and <= 100000000, got -5.0",
        ),
    )


def test_what_does_not_go_together_is_told() -> None:
    unit = msgspec.structs.replace(SOUND["smallest"].transmitter["drive"], address="what")
    problems = problems_of_scenario(changed(transmitter={"drive": unit}, failsafe={}, output={}))

    assert [path for path, _ in problems] == [("transmitter", "drive", "address")]


def test_one_that_is_too_large_is_told() -> None:
    (problem,) = problems_of_scenario(changed(duration_s=1e9, starts=1_000_000))

    assert problem[0] == ("duration_s",)
