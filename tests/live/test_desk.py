"""What a desk says of a scenario, what it proposes, and what it writes."""

import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

import radiosim
from radiosim.errors import OptionError, RadiosimError, ScenarioError
from radiosim.live.desk import Desk, Question
from radiosim.live.study import Study, study_lines, worked_out
from radiosim.safety import CAUTION
from radiosim.scenario import load
from radiosim.scenario.read import document_of
from radiosim.scenario.shipped import shipped_scenarios
from tests.live.served import SMALL, desk

PERIOD = "transmitter.drive.period_ms"


def said(lines: Iterator[Any]) -> list[dict[str, Any]]:
    """All lines of an answer, those beside the turns among them."""
    found = []
    for line in lines:
        found += [msgspec.json.decode(one) for one in (line() if callable(line) else (line,))]
    return found


@pytest.mark.parametrize("source", shipped_scenarios(), ids=lambda source: source.name)
def test_every_scenario_that_ships_has_controls_that_say_what_they_are(source: Any) -> None:
    found = Desk(source.path, source.name, is_own=False)

    assert 4 <= len(found.controls) <= 40
    for control in found.controls:
        assert control.meaning
        assert control.measure
        assert (control.now in control.values) != (control.now in control.words)
        assert len({*control.values, *control.words}) > 1
        assert list(control.values) == sorted(set(control.values))


def test_a_control_moves_what_set_moves(tmp_path: Path) -> None:
    found = desk(tmp_path)
    for control in found.controls:
        value = next(v for v in (*control.values, *control.words) if v != control.now)
        question = found.read({"set": {control.key: value}})
        text = value if isinstance(value, str) else f"{value:.12g}"
        assert question.lines == (f"{control.key}={text}",)
        assert found.read({"set": {control.key: control.now}}).lines == ()


def test_an_answer_is_the_same_when_it_is_asked_again_but_for_its_parts(tmp_path: Path) -> None:
    found, question = desk(tmp_path), Question(lines=(f"{PERIOD}=21",))
    first = said(found.answer(question, lambda: False))
    again = said(found.answer(question, lambda: False))

    assert again == [one for one in first if one["kind"] != "look" or one["is_last"]]


def test_an_answer_that_is_outdated_says_so_and_no_more(tmp_path: Path) -> None:
    assert said(desk(tmp_path).answer(Question(()), lambda: True)) == [{"kind": "outdated"}]


def test_few_starts_are_not_said_to_tell_more_than_they_do(tmp_path: Path) -> None:
    looks = [
        one
        for one in said(desk(tmp_path).answer(Question(()), lambda: False))
        if one["kind"] == "look"
    ]

    for look in looks:
        is_last = look["is_last"]
        longest = look["streams"][0]["figures"][0]
        assert longest["text"].startswith("at least ") != is_last
        assert look["verdict"].startswith("So far, ") != is_last
        assert all(one["is_good"] is None for one in look["answers"]) or is_last
        assert {one["state"] for one in look["requirements"]} <= {"failed", "open"} or is_last
        assert longest["chance_of_more"] == 1 / (look["starts"] + 1)


def test_the_text_to_take_keeps_comments_and_says_what_was_set(tmp_path: Path) -> None:
    found = desk(tmp_path)
    taken = found.taken({"set": {PERIOD: 21, "receiver.loop_ms": 5}})

    assert "period_ms = 21  # of its timer" in taken["toml"]
    assert "# read as it comes" in taken["toml"]
    assert CAUTION in " ".join(taken["toml"].replace("\n#", "\n").split())
    assert taken["command"].endswith(
        "--set transmitter.drive.period_ms=21 --set receiver.loop_ms=5"
    )
    other = tmp_path / "other.toml"
    other.write_text(taken["toml"], encoding="utf-8")
    expected = document_of(tmp_path / "small.toml", (f"{PERIOD}=21", "receiver.loop_ms=5"))
    assert document_of(other) == expected


def test_a_file_is_written_whole_and_keeps_its_permissions(tmp_path: Path) -> None:
    found, path = desk(tmp_path), tmp_path / "small.toml"
    path.chmod(0o600)
    written = found.write({"set": {PERIOD: 21}, "digest": found.digest})

    assert load(path).transmitter["drive"].period_ms == 21
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert [one.name for one in tmp_path.iterdir()] == ["small.toml"]
    assert written.digest != found.digest
    with pytest.raises(OptionError, match="load the page again"):
        written.read({"set": {}, "digest": found.digest})


def changed(path: Path) -> None:
    path.write_text(SMALL + "# by somebody else\n", encoding="utf-8")


def linked(path: Path) -> None:
    path.rename(path.with_name("elsewhere"))
    path.symlink_to("elsewhere")


def gone(path: Path) -> None:
    path.unlink()


def folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


@pytest.mark.parametrize("act", [changed, linked, gone, folder], ids=lambda act: act.__name__)
def test_a_file_that_is_another_by_now_is_not_written(tmp_path: Path, act: Any) -> None:
    found, path = desk(tmp_path), tmp_path / "small.toml"
    act(path)
    before = path.read_text(encoding="utf-8") if path.is_file() else None

    with pytest.raises(RadiosimError, match=r"small\.toml"):
        found.write({"set": {PERIOD: 21}})
    assert (path.read_text(encoding="utf-8") if path.is_file() else None) == before


def test_a_link_and_a_scenario_that_ships_are_never_written(tmp_path: Path) -> None:
    desk(tmp_path)
    link = tmp_path / "link.toml"
    link.symlink_to("small.toml")
    shipped = shipped_scenarios()[0]

    for found in (Desk(link, "link.toml"), Desk(shipped.path, shipped.name, is_own=False)):
        key = found.controls[0].key
        asked = {"set": {key: found.controls[0].values[0]}}
        assert not found.hello()["can_write"]
        assert not found.taken(asked)["can_write"]
        with pytest.raises(OptionError, match="cannot be written from here"):
            found.write(asked)


def test_what_makes_no_scenario_is_not_written(tmp_path: Path) -> None:
    found, path = desk(tmp_path), tmp_path / "small.toml"

    with pytest.raises(ScenarioError):
        found.write({"set": {PERIOD: -1}})
    assert path.read_text(encoding="utf-8") == SMALL


def test_a_line_that_nobody_proposed_is_refused(tmp_path: Path) -> None:
    for lines in (["starts=100000"], ["fault=[]"], [1], "starts=2", {"a": 1}, None):
        with pytest.raises(OptionError, match="lines: "):
            desk(tmp_path).read({"set": {}, "lines": lines})


SHORT = SMALL.replace("duration_s = 4", "duration_s = 1").replace("starts = 5", "starts = 2")


@pytest.mark.slow
def test_what_a_cure_proposes_can_be_asked_for(tmp_path: Path) -> None:
    found = desk(tmp_path, SHORT)
    lines = said(found.study("cure", Question(()), lambda: False))

    assert {one["kind"] for one in lines} == {"progress", "cure", "done"}
    (cure,) = [one for one in lines if one["kind"] == "cure"]
    assert cure["verdict"]
    assert cure["sections"]
    proposed = found.read({"set": {}, "lines": cure["lines"]})
    assert set(proposed.lines) == set(cure["lines"])


@pytest.mark.slow
def test_settings_are_recommended_as_the_command_does(tmp_path: Path) -> None:
    lines: list[dict[str, Any]] = []
    study = Study(kind="tune", text=SHORT, name="a.toml", folder=str(tmp_path), lines=(), points=3)
    worked_out(study, lines.append)

    path = tmp_path / "a.toml"
    path.write_text(SHORT, encoding="utf-8")
    told = " ".join(radiosim.tune(str(path), points=3, starts=2, workers=1).report().split())
    *_, found, done = lines
    assert done == {"kind": "done"}
    assert found["verdict"] in told
    assert all(f"--set {line}" in told for line in found["lines"])
    assert found["lines"] or "--set" not in told


@pytest.mark.slow
def test_a_study_that_nobody_waits_for_ends_at_once(tmp_path: Path) -> None:
    study = Study(kind="tune", text=SMALL, name="a.toml", folder=str(tmp_path), lines=())
    asked = 0

    def is_outdated() -> bool:
        nonlocal asked
        asked += 1
        return asked > 2

    assert list(study_lines(study, is_outdated))[-1] == b'{"kind":"outdated"}\n'
