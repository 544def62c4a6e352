"""C headers that a scenario's layouts name."""

from pathlib import Path

import msgspec
import pytest

from radiosim.engine.simulate import simulate
from radiosim.errors import ScenarioError
from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.changed import changed
from radiosim.scenario.named_files import LARGEST_TABLE_BYTES
from radiosim.scenario.read import load_layouts
from radiosim.signals import Csv

pytest.importorskip("clang.cindex", reason="headers need libclang, the extra `c`")

HEADER = '#include <stdint.h>\n#include "more.h"\nstruct Drive { uint8_t count; int16_t x[N]; };\n'
SCENARIO = """
radio.profile = "gfsk-1M"
layout.d = { header = "frames.h", struct = "Drive", abi = "avr" }
transmitter.drive = { period_ms = 20, layout = "d", signals.count = { kind = "counter" } }
duration_s = 2
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "frames.h").write_text(HEADER, encoding="utf-8")
    (tmp_path / "more.h").write_text("#define N 2\n", encoding="utf-8")
    return tmp_path


def scenario_with(folder: Path, text: str = SCENARIO) -> Path:
    path = folder / "link.toml"
    path.write_text(text, encoding="utf-8")
    return path


def refusal(path: Path) -> str:
    with pytest.raises(ScenarioError, match=r"\S") as caught:
        load(path)
    return str(caught.value)


def test_the_scenario_stands_alone_once_its_header_is_read(folder: Path) -> None:
    scenario = load(scenario_with(folder))
    (folder / "frames.h").unlink()

    layout = scenario.layout_of("drive")
    assert [field.name for field in layout.fields] == ["count", "x_0", "x_1"]
    assert layout.size_bytes == 5
    assert len(simulate(scenario, engine="reference").frames) > 40


def test_a_changed_scenario_keeps_what_its_header_said(folder: Path) -> None:
    scenario = load(scenario_with(folder))
    (folder / "frames.h").unlink()

    again = changed(scenario, ["transmitter.drive.period_ms=25"])

    assert again.layout == scenario.layout
    assert again.transmitter["drive"].period_ms == 25
    with pytest.raises(ScenarioError, match=r"layout\.d\.header: must be an absolute path here"):
        changed(scenario, ["layout.d.abi=arm"])


@pytest.mark.parametrize(
    ("given", "text"),
    [
        (
            'header = "frames.h", abi = "avr"',
            "link.toml:3: layout.d.struct: must be given: the name of the struct in the header",
        ),
        ('header = "frames.h", struct = "Drive"', "layout.d.abi: must be one of avr, arm, xtensa"),
        (
            'header = "frames.h", struct = "Drive", abi = "z80"',
            "layout.d.abi: must be one of avr, arm, xtensa, riscv32, host, got 'z80'",
        ),
        (
            'header = "frames.h", struct = "Look", abi = "avr"',
            "layout.d.header: frames.h: must have a struct Look, got Drive",
        ),
        (
            'header = "none.h", struct = "Drive", abi = "avr"',
            "layout.d.header: must be a file, got 'none.h', which is none",
        ),
        (
            'header = "../frames.h", struct = "Drive", abi = "avr"',
            "layout.d.header: must be inside the scenario's folder, got '../frames.h'",
        ),
        (
            'header = "frames.h", struct = "Drive", abi = "avr", size_bytes = 3',
            "layout.d.size_bytes: must be left out: it is read from the header",
        ),
        (
            'header = "frames.h", struct = "Drive", abi = "avr", byte_order = "big"',
            "layout.d.byte_order: must be little, as every abi has it, got 'big'",
        ),
        (
            'header = "frames.h", struct = "Drive", abi = "avr", convert.y = { scale = 2 }',
            "layout.d.convert.y: must be a field of the struct (count, x_0, x_1), got 'y'",
        ),
        (
            'header = "frames.h", struct = "Drive", abi = "avr", convert.x_0 = { scale = 0 }',
            "must be a number of 1e-12 or more in size, got 0",
        ),
    ],
)
def test_a_header_that_cannot_be_read_is_the_only_problem(
    folder: Path, given: str, text: str
) -> None:
    good = 'header = "frames.h", struct = "Drive", abi = "avr"'
    found = refusal(scenario_with(folder, SCENARIO.replace(good, given)))

    assert text in found
    assert len(found.splitlines()) == 1


def test_an_absolute_path_may_lead_out_of_the_folder(folder: Path, tmp_path: Path) -> None:
    inner = tmp_path / "inner"
    inner.mkdir()
    text = SCENARIO.replace('"frames.h"', f"'{folder / 'frames.h'}'")

    assert load(scenario_with(inner, text)).layout_of("drive").size_bytes == 5


def test_a_struct_over_the_payload_is_refused(folder: Path) -> None:
    (folder / "more.h").write_text("#define N 16\n", encoding="utf-8")

    assert "layout.d.struct: must be at most 32 bytes in all, got 33" in refusal(
        scenario_with(folder)
    )
    assert load_layouts(scenario_with(folder), 4096)["d"].size_bytes == 33


def test_layouts_are_read_whatever_else_is_wrong_with_the_scenario(folder: Path) -> None:
    path = scenario_with(folder, SCENARIO.replace("period_ms = 20", "period_ms = -1"))

    assert load_layouts(path, 32)["d"].size_bytes == 5
    with pytest.raises(ScenarioError, match=r"link\.toml:2: layout\.d\.packt: unknown key"):
        load_layouts(scenario_with(folder, "\nlayout.d = { packt = true }"), 32)


SCENARIO_OF_TABLES = """radio.profile = "gfsk-1M"
[transmitter.drive]
period_ms = 20
payload_bytes = 2
signals.value = { kind = "csv", file = "FILE" }
"""
TABLE = "t_s,value\n0,0\n1,0.5\n"


def scenario_with_of_tables(folder: Path, file: str) -> Path:
    path = folder / "scenario.toml"
    path.write_text(SCENARIO_OF_TABLES.replace("FILE", file), encoding="utf-8")
    return path


def refusal_of_tables(path: Path) -> str:
    with pytest.raises(ScenarioError, match=r"signals\.value") as caught:
        load(path)
    return str(caught.value).removeprefix("scenario.toml:5: transmitter.drive.signals.value")


def test_a_table_in_the_folder_becomes_part_of_the_scenario(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").write_text(TABLE, encoding="utf-8")
    scenario = load(scenario_with_of_tables(tmp_path, "hand.csv"))

    signal = scenario.transmitter["drive"].signals["value"]
    assert isinstance(signal, Csv)
    assert signal.points == ((0.0, 0.0), (1.0, 0.5))
    assert msgspec.json.decode(msgspec.json.encode(scenario), type=Scenario) == scenario


def test_a_table_elsewhere_needs_an_absolute_path(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").write_text(TABLE, encoding="utf-8")
    inner = tmp_path / "inner"
    inner.mkdir()

    assert refusal_of_tables(scenario_with_of_tables(inner, "../hand.csv")) == (
        ".file: must be inside the scenario's folder, got '../hand.csv'"
    )
    assert (
        load(scenario_with_of_tables(inner, str(tmp_path / "hand.csv")))
        .transmitter["drive"]
        .signals
    )


def test_a_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").write_text(TABLE, encoding="utf-8")
    inner = tmp_path / "inner"
    inner.mkdir()
    (inner / "link.csv").symlink_to(tmp_path / "hand.csv")

    assert "must be inside the scenario's folder" in refusal_of_tables(
        scenario_with_of_tables(inner, "link.csv")
    )


def test_a_link_to_itself_is_refused(tmp_path: Path) -> None:
    (tmp_path / "loop.csv").symlink_to(tmp_path / "loop.csv")

    assert refusal_of_tables(scenario_with_of_tables(tmp_path, "loop.csv")) == (
        ".file: must be a file, got 'loop.csv', a link to itself"
    )


def test_a_text_without_a_folder_needs_an_absolute_path() -> None:
    with pytest.raises(ScenarioError, match=r"must be an absolute path here, got 'hand\.csv'"):
        parse(SCENARIO_OF_TABLES.replace("FILE", "hand.csv"))


def test_a_folder_is_no_table(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").mkdir()

    assert (
        refusal_of_tables(scenario_with_of_tables(tmp_path, "hand.csv"))
        == ".file: must be a file, got 'hand.csv', which is none"
    )


def test_a_large_table_is_refused_by_its_size(tmp_path: Path) -> None:
    with (tmp_path / "hand.csv").open("wb") as stream:
        stream.truncate(LARGEST_TABLE_BYTES + 1)

    assert "must be at most 8,000,000 bytes, got 8,000,001" in refusal_of_tables(
        scenario_with_of_tables(tmp_path, "hand.csv")
    )


def test_a_table_that_is_not_utf_8_is_told(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").write_bytes(b"t_s,value\n0,\xff\n")

    assert refusal_of_tables(scenario_with_of_tables(tmp_path, "hand.csv")) == (
        ".file: must be UTF-8 text, got 'hand.csv'"
    )


def test_what_is_wrong_in_a_table_is_told(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").write_text("t_s,value\n0,0\n0,1\n", encoding="utf-8")

    assert refusal_of_tables(scenario_with_of_tables(tmp_path, "hand.csv")).startswith(
        ".file: hand.csv: row 3"
    )


def test_a_table_that_leaves_its_field_is_told(tmp_path: Path) -> None:
    (tmp_path / "hand.csv").write_text("t_s,value\n0,0\n1,2\n", encoding="utf-8")

    assert refusal_of_tables(scenario_with_of_tables(tmp_path, "hand.csv")) == (
        ": must stay inside value's range, -1 to 1, got 0 to 2"
    )


def test_points_are_not_written_in_a_scenario(tmp_path: Path) -> None:
    path = scenario_with_of_tables(tmp_path, 'hand.csv", points = [[0, 0]], column = "value')

    assert refusal_of_tables(path) == ".points: must be left out: they are read from file"


FAR = SCENARIO_OF_TABLES.replace('signals.value = { kind = "csv", file = "FILE" }', "") + (
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
        ("t_s,distance_m\n0,-5\n", "times of 0 to 1e+08 s and distances of 0.001 to 1e+07 m"),
        ("t_s,distance_m\n0,5\n1e18,5\n", "row 3, column 't_s': must be within 1e+08, got 1e+18"),
        ("t_s,distance_m\n0,1e30\n", "column 'distance_m': must be within 1e+20, got 1e+30"),
        ("t_s,distance_m\n5,1\n4,2\n", "drive.csv: row 3, column 't_s': must be > 5"),
    ],
)
def test_a_track_file_that_is_none_is_refused(tmp_path: Path, rows: str, said: str) -> None:
    with pytest.raises(ScenarioError, match=r"air\.range\.track_file") as caught:
        load(far(tmp_path, rows))

    assert said in str(caught.value)
