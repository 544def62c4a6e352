"""What every scene that ships has, and that it runs."""

import pytest

from radiosim.scenario import load
from radiosim.scenario.shipped import shipped_scene, shipped_scenes
from tests.scenes.shortened import summary_of, text_of

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


def test_these_scenes_ship() -> None:
    assert tuple(scene.name for scene in shipped_scenes()) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_a_scene_says_that_it_and_its_vehicle_are_our_own_invention(name: str) -> None:
    assert head_of(name).endswith("The scene and its vehicle are our own invention.")


@pytest.mark.parametrize("name", NAMES)
def test_a_scene_says_what_to_look_at(name: str) -> None:
    assert "Look at: " in head_of(name)


@pytest.mark.parametrize("name", NAMES)
def test_the_first_comment_line_is_a_sentence_for_the_list_of_scenes(name: str) -> None:
    scene = shipped_scene(name)

    assert scene is not None
    assert scene.about.endswith(".")


@pytest.mark.parametrize("name", NAMES)
def test_a_scene_runs(name: str) -> None:
    summary = summary_of(name, 1, "duration_s=5")

    for figures in summary.figures.stream.values():
        assert figures.read > 0


@pytest.mark.parametrize("name", [name for name in NAMES if name != "smallest"])
def test_a_scene_has_a_title_and_a_requirement(name: str) -> None:
    scene = shipped_scene(name)

    assert scene is not None
    assert scene.title
    assert load(scene.path).requirement
