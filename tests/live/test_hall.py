"""The page without a scenario: those that ship, and questions that make a new one."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from radiosim.errors import RadiosimError
from radiosim.live.hall import Hall
from radiosim.live.server import LiveServer
from radiosim.scenario import load
from radiosim.scenario.ask import QUESTIONS, answered, scenario_text
from radiosim.scenario.shipped import shipped_scenarios
from tests.live.served import request, served

GIVEN = {"drives": "boat", "transmitters": "helm: rudder, throttle", "every-ms": "25"}


@pytest.fixture
def server(tmp_path: Path) -> Iterator[LiveServer]:
    with served(Hall(tmp_path)) as found:
        yield found


def test_every_scenario_that_ships_can_be_opened(server: LiveServer) -> None:
    _, hall = request(server, "GET", "")

    for source in shipped_scenarios():
        assert f'<a href="{source.name}/">'.encode() in hall
    name = shipped_scenarios()[0].name
    assert request(server, "GET", f"{name}/")[0] == 200
    assert request(server, "GET", f"{name}/live.js")[0] == 200
    assert request(server, "POST", f"{name}/text", {"set": {}})[0] == 200


@pytest.mark.parametrize(
    "place", ["no-such-one/", "..%2fmy/", "live.css/", "../", "a/b/", "%00/", "club-meet/../"]
)
def test_no_other_place_can_be_opened(server: LiveServer, place: str) -> None:
    assert request(server, "GET", place)[0] == 404
    assert request(server, "POST", f"{place}answer", {"set": {}})[0] == 404


def test_the_form_asks_what_the_command_asks_and_makes_what_it_makes(tmp_path: Path) -> None:
    form = Hall(tmp_path).form({"answers": GIVEN | {"rate": "  "}})

    assert [field["name"] for field in form["fields"]] == [question.name for question in QUESTIONS]
    assert form["toml"] == scenario_text(answered(GIVEN))
    assert form["guesses"] > 3


def test_a_wrong_answer_is_told_beside_its_question_alone(tmp_path: Path) -> None:
    form = Hall(tmp_path).form({"answers": {"drives": "submarine", "every-ms": "25"}})

    assert form["toml"] is None
    assert [field["name"] for field in form["fields"] if field["problem"]] == ["drives"]


def test_a_new_scenario_is_saved_and_opened(server: LiveServer, tmp_path: Path) -> None:
    _, body = request(server, "POST", "save", {"answers": GIVEN, "file": "my-boat.toml"})
    saved = msgspec.json.decode(body)

    assert list(load(tmp_path / "my-boat.toml").transmitter) == ["helm"]
    assert request(server, "GET", f"{saved['place']}/")[0] == 200
    assert request(server, "POST", "save", {"answers": GIVEN, "file": "my-boat.toml"})[0] == 409


@pytest.mark.parametrize(
    "file",
    [
        *("", "my", "../my.toml", "a/my.toml", "/tmp/my.toml", ".my.toml", "a\\my.toml"),
        *(
            "a\n.toml",
            "a\0.toml",
            "x" * 200 + ".toml",
            "há.toml",
            "my boat.toml",
            "-.toml",
            7,
            None,
        ),
    ],
    ids=repr,
)
def test_a_file_elsewhere_or_of_another_kind_is_not_written(tmp_path: Path, file: Any) -> None:
    with pytest.raises(RadiosimError, match="file: "):
        Hall(tmp_path).save({"answers": GIVEN, "file": file})
    assert not list(tmp_path.iterdir())


def test_what_is_there_is_not_written_over_nor_through(tmp_path: Path) -> None:
    hall = Hall(tmp_path)
    (tmp_path / "mine.toml").write_text("mine", encoding="utf-8")
    (tmp_path / "link.toml").symlink_to(tmp_path / "elsewhere.toml")

    for file in ("mine.toml", "link.toml"):
        with pytest.raises(RadiosimError, match="must be a new file"):
            hall.save({"answers": GIVEN, "file": file})
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / "elsewhere.toml").exists()


@pytest.mark.parametrize("asked", [None, {}, {"answers": []}, {"answers": {"drives": 1}}])
def test_what_is_no_set_of_answers_is_refused(tmp_path: Path, asked: Any) -> None:
    with pytest.raises(RadiosimError, match="answers: "):
        Hall(tmp_path).form(asked)
