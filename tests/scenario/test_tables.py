from pathlib import Path

import msgspec
import pytest

from radiosim.errors import ScenarioError
from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.changed import changed
from radiosim.scenario.tables import LARGEST_TABLE_BYTES
from radiosim.signals import Csv

SCENARIO = """radio.profile = "gfsk-1M"
[transmitter.drive]
period_ms = 20
payload_bytes = 2
signals.value = { kind = "csv", file = "FILE" }
"""
TABLE = "t_s,value\n0,0\n1,0.5\n"


def scenario_with(folder: Path, file: str) -> Path:
    path = folder / "scenario.toml"
    path.write_text(SCENARIO.replace("FILE", file), encoding="utf-8")
    return path


def refusal(path: Path) -> str:
    with pytest.raises(ScenarioError, match=r"signals\.value") as caught:
        load(path)
    return str(caught.value).removeprefix("scenario.toml:5: transmitter.drive.signals.value")


def test_a_table_in_the_folder_becomes_part_of_the_scenario(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").write_text(TABLE, encoding="utf-8")
    scenario = load(scenario_with(tmp_path, "hand.csv"))

    signal = scenario.transmitter["drive"].signals["value"]
    assert isinstance(signal, Csv)
    assert signal.points == ((0.0, 0.0), (1.0, 0.5))
    assert msgspec.json.decode(msgspec.json.encode(scenario), type=Scenario) == scenario


def test_a_table_elsewhere_needs_an_absolute_path(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").write_text(TABLE, encoding="utf-8")
    inner = tmp_path / "inner"
    inner.mkdir()

    assert refusal(scenario_with(inner, "../hand.csv")) == (
        ".file: must be inside the scenario's folder, got '../hand.csv'"
    )
    assert load(scenario_with(inner, str(tmp_path / "hand.csv"))).transmitter["drive"].signals


def test_a_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").write_text(TABLE, encoding="utf-8")
    inner = tmp_path / "inner"
    inner.mkdir()
    (inner / "link.csv").symlink_to(tmp_path / "hand.csv")

    assert "must be inside the scenario's folder" in refusal(scenario_with(inner, "link.csv"))


def test_a_link_to_itself_is_refused(tmp_path: Path) -> None:
    (tmp_path / "loop.csv").symlink_to(tmp_path / "loop.csv")

    assert refusal(scenario_with(tmp_path, "loop.csv")) == (
        ".file: must be a file, got 'loop.csv', a link to itself"
    )


def test_a_text_without_a_folder_needs_an_absolute_path() -> None:
    with pytest.raises(ScenarioError, match=r"must be an absolute path here, got 'hand\.csv'"):
        parse(SCENARIO.replace("FILE", "hand.csv"))


def test_a_folder_is_no_table(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").mkdir()

    assert (
        refusal(scenario_with(tmp_path, "hand.csv"))
        == ".file: must be a file, got 'hand.csv', which is none"
    )


def test_a_large_table_is_refused_by_its_size(tmp_path: Path) -> None:
    with (tmp_path / "hand.csv").open("wb") as stream:
        stream.truncate(LARGEST_TABLE_BYTES + 1)

    assert "must be at most 8,000,000 bytes, got 8,000,001" in refusal(
        scenario_with(tmp_path, "hand.csv")
    )


def test_a_table_that_is_not_utf_8_is_told(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").write_bytes(b"t_s,value\n0,\xff\n")

    assert refusal(scenario_with(tmp_path, "hand.csv")) == (
        ".file: must be UTF-8 text, got 'hand.csv'"
    )


def test_what_is_wrong_in_a_table_is_told(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").write_text("t_s,value\n0,0\n0,1\n", encoding="utf-8")

    assert refusal(scenario_with(tmp_path, "hand.csv")).startswith(".file: hand.csv: row 3")


def test_a_table_that_leaves_its_field_is_told(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").write_text("t_s,value\n0,0\n1,2\n", encoding="utf-8")

    assert refusal(scenario_with(tmp_path, "hand.csv")) == (
        ": must stay inside value's range, -1 to 1, got 0 to 2"
    )


def test_points_are_not_written_in_a_scenario(tmp_path: Path) -> None:
    path = scenario_with(tmp_path, 'hand.csv", points = [[0, 0]], column = "value')

    assert refusal(path) == ".points: must be left out: they are read from file"


FAR = SCENARIO.replace('signals.value = { kind = "csv", file = "FILE" }', "") + (
    'place = { track_file = "own.csv" }\n[air.range]\ntrack_file = "drive.csv"\n'
)


def far(folder: Path, rows: str) -> Path:
    (folder / "drive.csv").write_text(rows, encoding="utf-8")
    (folder / "own.csv").write_text("t_s,distance_m\n0,7\n", encoding="utf-8")
    path = folder / "far.toml"
    path.write_text(FAR, encoding="utf-8")
    return path


def test_a_track_is_read_from_its_file_and_need_not_be_read_again(tmp_path: Path) -> None:
    scenario = load(far(tmp_path, "t_s,distance_m\n0,5\n60,400\n"))
    place = scenario.air.range

    assert place is not None
    assert place.track == ((0.0, 5.0), (60.0, 400.0))
    (tmp_path / "drive.csv").unlink()
    again = changed(scenario, ["air.range.fading=rician"]).air.range
    assert again is not None
    assert (again.track, again.fading) == (place.track, "rician")


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("t_s,metres\n0,5\n", "drive.csv: row 1: must have a column 'distance_m'"),
        ("t_s,distance_m\n0,-5\n", "must have times >= 0 and distances > 0, got [0, -5]"),
        ("t_s,distance_m\n5,1\n4,2\n", "drive.csv: row 3, column 't_s': must be > 5"),
    ],
)
def test_a_track_file_that_is_none_is_refused(tmp_path: Path, rows: str, said: str) -> None:
    with pytest.raises(ScenarioError, match=r"air\.range\.track_file") as caught:
        load(far(tmp_path, rows))

    assert said in str(caught.value)
