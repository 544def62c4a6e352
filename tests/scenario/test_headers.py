"""C headers that a scenario's layouts name."""

from pathlib import Path

import pytest

from radiosim.engine.simulate import simulate
from radiosim.errors import ScenarioError
from radiosim.scenario import load
from radiosim.scenario.changed import changed
from radiosim.scenario.read import load_layouts

pytest.importorskip("clang.cindex", reason="headers need libclang, the extra `c`")

HEADER = '#include <stdint.h>\n#include "more.h"\nstruct Drive { uint8_t count; int16_t x[N]; };\n'
SCENARIO = """
radio.profile = "gfsk-1M"
layout.d = { header = "frames.h", struct = "Drive", abi = "avr" }
transmitter.drive = { period_ms = 20, layout = "d", signals.count = { kind = "counter" } }
duration_s = 1
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
            "must be a number other than 0, got 0",
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
