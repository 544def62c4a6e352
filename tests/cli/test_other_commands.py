import json
from pathlib import Path

import pytest

from radiosim.scenario import shipped
from tests.cli.typed import TINY, tiny, typed


@pytest.fixture
def two_scenarios(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "shipped"
    folder.mkdir()
    (folder / "culvert-crawler.toml").write_text(f"# Crawls.\n# More.\n{TINY}", encoding="utf-8")
    (folder / "smallest.toml").write_text('radio.profile = "gfsk-1M"\n', encoding="utf-8")
    monkeypatch.setattr(shipped, "_folder", lambda: folder)
    return folder


@pytest.mark.usefixtures("two_scenarios")
def test_scenarios_are_listed_with_title_and_first_comment() -> None:
    done = typed("scenarios")

    assert done.code == 0
    assert done.out.startswith("culvert-crawler: Tiny\n  Crawls.\nsmallest\n")


def test_a_scenario_is_printed_as_it_is(two_scenarios: Path) -> None:
    path = two_scenarios / "culvert-crawler.toml"

    assert typed("scenarios", "culvert-crawler").out == path.read_text(encoding="utf-8")


def test_a_scenario_is_copied_out_once(two_scenarios: Path, tmp_path: Path) -> None:
    target = tmp_path / "mine.toml"
    first = typed("scenarios", "culvert-crawler", "--to", target)
    target.write_text("edited", encoding="utf-8")
    second = typed("scenarios", "culvert-crawler", "--to", target)

    assert (first.code, first.err) == (0, f"wrote {target}\n")
    assert second.code == 2
    assert "mine.toml: must be a new file, got one that exists" in second.err
    assert target.read_text(encoding="utf-8") == "edited"


def test_a_scenario_is_copied_into_a_folder(two_scenarios: Path, tmp_path: Path) -> None:
    typed("scenarios", "smallest", "--to", tmp_path)

    copied = (tmp_path / "smallest.toml").read_bytes()
    assert copied == (two_scenarios / "smallest.toml").read_bytes()


@pytest.mark.usefixtures("two_scenarios")
def test_a_misspelt_scenario_gets_a_hint() -> None:
    assert typed("scenarios", "smalest").err == (
        "smalest: must be the name of a scenario that ships; did you mean smallest?\n"
    )
    assert "did you mean culvert-crawler?" in typed("run", "culvert-crawlr").err
    assert typed("scenarios", "../shipped/smallest").code == 2


@pytest.mark.usefixtures("two_scenarios")
def test_a_shipped_scenario_runs_by_its_name() -> None:
    assert typed("run", "culvert-crawler", "--starts", "1").out.startswith("Tiny: start 0, 2 s")


@pytest.mark.usefixtures("two_scenarios")
def test_a_file_of_the_same_name_goes_before_a_shipped_scenario(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "culvert-crawler").write_text("typo = 1", encoding="utf-8")
    monkeypatch.chdir(tmp_path)

    assert "culvert-crawler:1: typo: unknown key" in typed("validate", "culvert-crawler").err


def test_schema_is_json() -> None:
    document = json.loads(typed("schema").out)

    assert document["$ref"] == "#/$defs/ScenarioFile"


def test_check_reads_without_simulating(tmp_path: Path) -> None:
    done = typed("validate", tiny(tmp_path))

    assert done.code == 0
    assert done.out.startswith(f"{tmp_path / 'tiny.toml'}: ok\n")
    assert "  assumed: radio: channel 68 (2468 MHz)" in done.out


def test_check_goes_on_after_a_refused_scenario(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("typo = 1\n", encoding="utf-8")
    done = typed("validate", bad, tiny(tmp_path))

    assert done.code == 2
    assert "tiny.toml: ok" in done.out
    assert done.err.startswith("bad.toml:1: typo: unknown key")


def test_check_tells_all_of_it_as_json_too(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("typo = 1\n", encoding="utf-8")
    done = typed("validate", bad, tiny(tmp_path), "--json", "-")

    refused, sound = json.loads(done.out)["scenarios"]
    assert (done.code, refused["ok"], sound["ok"]) == (2, False, True)
    assert refused["problems"][0].startswith("bad.toml:1: typo: unknown key")
    assert any("radio: channel 68 (2468 MHz)" in text for text in sound["assumed"])


def test_check_tells_files_of_one_name_apart(tmp_path: Path) -> None:
    paths = [tmp_path / name / "scenario.toml" for name in ("a", "b")]
    for path in paths:
        path.parent.mkdir()
        path.write_text("typo = 1\n", encoding="utf-8")
    done = typed("validate", *paths)

    assert done.code == 2
    for path in paths:
        assert f"{path}:1: typo: unknown key" in done.err


def test_a_change_is_read_without_simulating(tmp_path: Path) -> None:
    changed = ("--set", "failsafe.drive.timeout_ms=2", "--set", "transmitter.drive.period_ms=5")
    done = typed("validate", tiny(tmp_path), *changed)

    assert done.code == 0
    assert "2 is no longer than transmitter.drive.period_ms (5)" in done.out
    assert "is no longer than" not in typed("validate", tiny(tmp_path)).out


def test_a_change_that_is_wrong_is_refused_as_a_run_refuses_it(tmp_path: Path) -> None:
    wrong = ("--set", "transmitter.drive.period_ms=-1", "--set", "typo=1")
    validated, run = (typed(command, tiny(tmp_path), *wrong) for command in ("validate", "run"))

    assert (validated.code, validated.err) == (run.code, run.err)
    assert validated.code == 2
    assert validated.err.count("--set: ") == 2
    assert validated.out == ""


def test_check_knows_a_saved_trace(tmp_path: Path) -> None:
    trace = tmp_path / "start.npz"
    trace.write_bytes(b"PK\x03\x04")

    assert typed("validate", trace).err == (
        f"{trace}: must be a scenario file, got a saved trace; radiosim run shows its figures\n"
    )


def test_help_names_every_command() -> None:
    done = typed("--help")

    assert done.code == 0
    for name in ("run", "new", "scenarios", "schema", "validate", "glossary"):
        assert f"  {name}  " in done.out


def test_help_of_run_names_every_option() -> None:
    words = typed("run", "--help").out.split()

    for option in (
        *("--starts", "--start", "--seed", "--duration-s", "--set"),
        *("--json", "--csv", "--trace", "--more", "--workers"),
    ):
        assert option in words


def test_validate_says_which_outputs_have_no_bound(tmp_path: Path) -> None:
    slow = tiny(tmp_path, "receiver.interrupt = true\nreceiver.spi_overhead_us = 500\n")
    text = typed("validate", slow).out

    assert ": NO BOUND on the failsafe reaction time: a read takes" in text
    assert "takes as long as a frame" not in typed("validate", tiny(tmp_path)).out


def test_check_goes_on_after_a_name_that_cannot_be_one(tmp_path: Path) -> None:
    done = typed("validate", "x" * 300, tiny(tmp_path))

    assert done.code == 2
    assert done.err.endswith(": cannot be read: File name too long\n")
    assert "tiny.toml: ok" in done.out
