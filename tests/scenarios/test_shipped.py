"""What every scenario that ships has, and that it runs."""

import pytest

from radiosim.scenario import load
from radiosim.scenario.shipped import shipped_scenario, shipped_scenarios
from tests.scenarios.shortened import summary_of, text_of

NAMES = (
    "club-meet",
    "culvert-crawler",
    "harbour-tug",
    "late-goggles",
    "long-pipe",
    "shared-timer",
    "slow-loop",
    "smallest",
    "still-stick",
    "twin-clocks",
)


def head_of(name: str) -> str:
    """The comment before the first key, as one line."""
    head = text_of(name).partition("\n\n")[0]
    return " ".join(line.lstrip("# ") for line in head.splitlines() if line.startswith("#"))


def test_these_scenarios_ship() -> None:
    assert tuple(given.name for given in shipped_scenarios()) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_a_scenario_says_that_it_and_its_vehicle_are_our_own_invention(name: str) -> None:
    assert "The scenario and its vehicle are our own invention." in head_of(name)


@pytest.mark.parametrize("name", NAMES)
def test_a_scenario_says_what_to_look_at(name: str) -> None:
    assert "Look at: " in head_of(name)


@pytest.mark.parametrize("name", NAMES)
def test_the_first_comment_line_is_a_sentence_for_the_list_of_scenarios(name: str) -> None:
    given = shipped_scenario(name)

    assert given is not None
    assert given.about.endswith(".")


@pytest.mark.parametrize("name", NAMES)
def test_a_scenario_runs(name: str) -> None:
    summary = summary_of(name, 1, "duration_s=5")

    for figures in summary.figures.stream.values():
        assert figures.read > 0


@pytest.mark.parametrize("name", [name for name in NAMES if name != "smallest"])
def test_a_scenario_has_a_title_and_a_requirement(name: str) -> None:
    given = shipped_scenario(name)

    assert given is not None
    assert given.title
    assert load(given.path).requirement
