"""`--page` of the studies as a user types it."""

from pathlib import Path

import pytest

from tests.cli.test_failsafe_command import OUTPUT, QUICK
from tests.cli.test_layout_command import link
from tests.cli.test_range_command import FAR
from tests.cli.test_tune_command import SECOND, VARY
from tests.cli.typed import tiny, typed

COMMANDS = {
    "failsafe": (OUTPUT, QUICK),
    "tune": (SECOND, (*VARY, "--workers", 1)),
    "range": (FAR, ("--points", 3, "--workers", 1)),
}


@pytest.mark.parametrize("command", COMMANDS)
def test_a_page_has_the_scenario_and_the_command_that_makes_it(
    tmp_path: Path, command: str
) -> None:
    more, options = COMMANDS[command]
    path, page = tiny(tmp_path, more), tmp_path / "it's.html"
    typed(command, path, *options, "--page", page)
    text = page.read_text(encoding="utf-8")

    assert "transmitter.drive = { boot_s = 0, period_ms = 20" in text
    assert f"radiosim {command} {path} " in text
    assert "it&#39;&#34;&#39;&#34;&#39;s.html" in text
    assert text.rstrip().endswith("</html>")


@pytest.mark.parametrize("command", COMMANDS)
def test_a_page_never_takes_the_place_of_the_scenario(tmp_path: Path, command: str) -> None:
    more, options = COMMANDS[command]
    path = tiny(tmp_path, more)
    before = path.read_bytes()
    done = typed(command, path, *options, "--page", path)

    assert done.code == 2
    assert f"--page: must not be the scenario itself, got {path}" in done.err
    assert path.read_bytes() == before


def test_a_page_and_json_want_different_files(tmp_path: Path) -> None:
    path = tiny(tmp_path, FAR)
    done = typed("range", path, "--page", tmp_path / "a", "--json", tmp_path / "a")

    assert (done.code, "--json, --page: must be different files" in done.err) == (2, True)


@pytest.mark.slow
def test_two_layouts_make_a_page(tmp_path: Path) -> None:
    path, page = link(tmp_path), tmp_path / "page.html"
    pair = (f"{path}:drive", f"{path}:wider")
    typed("layout", "compare", *pair, "--scenario", path, "--page", page)
    text = page.read_text(encoding="utf-8")

    assert "radiosim layout compare" in text
    assert 'id="figure-change"' in text
    typed("layout", "compare", *pair, "--page", page)
    assert "seed" not in page.read_text(encoding="utf-8").partition("How to make")[2]
