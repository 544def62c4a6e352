from pathlib import Path

import pytest

from radiosim.errors import ScenarioError
from radiosim.scenario import load
from tests.scenario.scenarios import HERE

BAD = sorted((HERE / "bad").glob("*.toml"))


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
def test_each_mistake_is_told_in_its_own_words(path: Path) -> None:
    expected = path.with_suffix(".txt").read_text(encoding="utf-8").rstrip("\n")

    with pytest.raises(ScenarioError, match=r"\S") as caught:
        load(path)

    assert str(caught.value) == expected


def test_every_expected_text_has_its_scenario() -> None:
    texts = {path.stem for path in (HERE / "bad").glob("*.txt")}

    assert texts == {path.stem for path in BAD}
    assert len(BAD) > 70
