import csv
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from msgspec.structs import replace

from radiosim.cli import run
from radiosim.scenario import load
from radiosim.scenario.edited import edited
from tests.cli.typed import tiny, typed

FAILS = '[[requirement]]\nfigure = "stream.drive.update_rate_hz"\nat_least = 1000\n'
HOLDS = '[[requirement]]\nfigure = "stream.drive.update_rate_hz"\nat_least = 1\n'
DRILLED = '[[requirement]]\nfigure = "worst.drive.reaction_ms"\nat_most = 1000\n'


def test_a_scenario_is_told_in_words(tmp_path: Path) -> None:
    done = typed("run", tiny(tmp_path))

    assert done.code == 0
    assert done.out.startswith("Tiny: 2 starts of 2 s, 4 s in all (seed 1, fast engine)\n\n")
    assert "A simulation is not proof." in done.out
    assert max(map(len, done.out.splitlines())) <= 80
    assert done.err == ""


def test_a_run_writes_nothing_unless_asked(tmp_path: Path) -> None:
    scenario = tiny(tmp_path)
    typed("run", scenario, "--starts", "1")

    assert list(tmp_path.iterdir()) == [scenario]


@pytest.mark.parametrize(("requirement", "code"), [(HOLDS, 0), (FAILS, 1), (DRILLED, 1)])
def test_exit_code_tells_whether_every_requirement_held(
    tmp_path: Path, requirement: str, code: int
) -> None:
    assert typed("run", tiny(tmp_path, requirement), "--starts", "1").code == code


def test_a_scenario_with_hazards_and_no_requirements_says_that_nothing_was_required(
    tmp_path: Path,
) -> None:
    scenario = tiny(tmp_path)
    done = typed("run", scenario, "--starts", "1")
    pasted = [word for line in done.out.splitlines() for word in line.split() if "ment.0." in word]

    assert done.code == 0
    assert "\n! " in done.out
    assert " ".join(done.out.split()).endswith("Requirements to paste stand above.")
    sets = [part for line in pasted for part in ("--set", line)]
    assert len(sets) == 4
    assert typed("validate", scenario, *sets).code == 0


def test_json_on_standard_output_stands_alone(tmp_path: Path) -> None:
    one = json.loads(typed("run", tiny(tmp_path), "--start", "1", "--json", "-").out)
    several = json.loads(typed("run", tiny(tmp_path), "--json", "-", "--workers", "1").out)

    assert (one["start"], one["title"]) == (1, "Tiny")
    assert one["figures"]["stream"]["drive"]["sampled"] == 100
    assert several["starts"] == 2
    assert several["figures"]["stream"]["drive"]["sampled"] == 200


def test_start_k_alone_is_start_k_of_many(tmp_path: Path) -> None:
    scenario = tiny(tmp_path)
    ones = [
        json.loads(typed("run", scenario, "--start", str(k), "--json", "-").out) for k in range(2)
    ]
    many = json.loads(typed("run", scenario, "--workers", "1", "--json", "-").out)

    pooled = many["figures"]["stream"]["drive"]
    assert sum(one["figures"]["stream"]["drive"]["attempts"] for one in ones) == pooled["attempts"]
    assert (
        max(one["figures"]["stream"]["drive"]["gap_ms"]["max"] for one in ones)
        == pooled["gap_ms"]["max"]
    )


def test_one_start_is_start_zero(tmp_path: Path) -> None:
    scenario = tiny(tmp_path)

    assert (
        typed("run", scenario, "--starts", "1", "--json", "-").out
        == typed("run", scenario, "--start", "0", "--json", "-").out
    )


def test_options_change_the_scenario(tmp_path: Path) -> None:
    options = ["--seed", "0", "--duration-s", "1", "--set", "transmitter.drive.period_ms=10"]
    document = json.loads(typed("run", tiny(tmp_path), "--start", "0", "--json", "-", *options).out)

    assert (document["seed"], document["duration_s"]) == (0, 1.0)
    assert document["figures"]["stream"]["drive"]["sampled"] == 100


def test_a_saved_trace_gives_the_same_figures(tmp_path: Path) -> None:
    scenario, trace = tiny(tmp_path), tmp_path / "start.npz"
    first = typed("run", scenario, "--start", "1", "--trace", trace)
    again = typed("run", trace)

    assert (again.code, again.out) == (first.code, first.out)


def test_files_and_report_come_together(tmp_path: Path) -> None:
    results, tables = tmp_path / "results.json", tmp_path / "tables"
    done = typed("run", tiny(tmp_path), "--starts", "1", "--json", results, "--csv", tables)

    with (tables / "streams.csv").open(encoding="utf-8", newline="") as stream:
        (row,) = csv.DictReader(stream)
    figures = json.loads(results.read_text(encoding="utf-8"))["figures"]["stream"]["drive"]
    assert float(row["gap_ms.max"]) == figures["gap_ms"]["max"]
    assert done.out.startswith("Tiny: start 0")


def test_more_adds_to_the_first_screen(tmp_path: Path) -> None:
    scenario = tiny(tmp_path)

    assert "Where every frame ended" in typed("run", scenario, "--starts", "1", "--more").out
    assert "Where every frame ended" not in typed("run", scenario, "--starts", "1").out


@pytest.mark.parametrize(
    ("options", "text"),
    [
        (["--start", "1", "--starts", "2"], "--start: must stand without --starts, or with"),
        (["--trace", "{}/t.npz"], "--trace: must be for one start, got 2 (add --start 0"),
        (["--json", "{}/none/r.json"], "none/r.json: must be in a folder that exists"),
        (["--json", "{}/tiny.toml"], "--json: must not be the scenario itself"),
        (["--csv", "{}/tiny.toml"], "tiny.toml: must be a folder, got a file"),
        (["--json", "{}/x", "--trace", "{}/x"], "--json, --trace: must be different files"),
        (["--waveform", "{}/none/w.vcd"], "w.vcd: must be in a folder that exists"),
        (["--page", "{}/none/p.html"], "p.html: must be in a folder that exists"),
        (["--page", "{}/tiny.toml"], "--page: must not be the scenario itself"),
        (["--waveform-start", "1"], "--waveform-start: must stand beside --waveform"),
        (
            ["--waveform", "{}/w.vcd", "--waveform-start", "2"],
            "--waveform-start: must be start 0 to 1, got 2",
        ),
        (
            ["--waveform", "{}/w.vcd", "--duration-s", "90000"],
            "--waveform: must be at most 2,000,000 changes, got some",
        ),
        (["--starts", "0"], "--starts: must be a whole number >= 1"),
        (
            ["--duration-s", "-1"],
            "--duration-s: must be a number >= 0.001 and <= 100000000, got -1",
        ),
        (["--seed", "-1"], "--seed: must be a whole number >= 0"),
        (["--set", "period_ms=3"], "--set: period_ms: unknown key 'period_ms'"),
        (
            ["--set", "starts=1.5", "--starts", "1"],
            "--starts: must stand without --set starts, got --set starts=1.5",
        ),
        (
            ["--set", "starts = 2", "--start", "1"],
            "--start: must stand without --set starts, got --set starts = 2",
        ),
        (
            ["--duration-s", "1", "--set", "duration_s=1"],
            "--duration-s: must stand without --set duration_s, got --set duration_s=1",
        ),
        (["--set", "starts"], "--set: must be KEY=VALUE, got 'starts'"),
    ],
)
def test_a_refused_run_writes_nothing(tmp_path: Path, options: list[str], text: str) -> None:
    scenario = tiny(tmp_path)
    done = typed("run", scenario, *(option.replace("{}", str(tmp_path)) for option in options))

    assert (done.code, done.out) == (2, "")
    assert text in done.err
    assert list(tmp_path.iterdir()) == [scenario]


def test_a_bad_scenario_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    scenario = tiny(tmp_path, "typo = 1\n")
    done = typed("run", scenario, "--starts", "1", "--json", tmp_path / "r.json")

    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("tiny.toml:")
    assert list(tmp_path.iterdir()) == [scenario]


@pytest.mark.parametrize(
    "options",
    [["--seed", "1"], ["--starts", "1"], ["--start", "0"], ["--duration-s", "1"], ["--set", "a=1"]],
)
def test_a_saved_trace_takes_no_changes(tmp_path: Path, options: list[str]) -> None:
    trace = tmp_path / "start.npz"
    trace.write_bytes(b"PK\x03\x04")
    done = typed("run", trace, *options)

    assert done.code == 2
    assert done.err.startswith(f"{options[0]}: must be left out with a saved trace")


def test_half_a_trace_is_refused_in_one_line(tmp_path: Path) -> None:
    trace = tmp_path / "start.npz"
    trace.write_bytes(b"PK\x03\x04 and no more")
    done = typed("run", trace)

    assert (done.code, done.out) == (2, "")
    assert "start.npz: is damaged, or not a saved trace" in done.err


def test_a_scenario_that_is_nowhere_is_refused() -> None:
    done = typed("run", "no-such-scenario.toml")

    assert done.code == 2
    assert done.err.startswith(
        "no-such-scenario.toml: must be a scenario file, got a path where none is"
    )


@pytest.mark.parametrize("argument", ["", " "])
def test_no_scenario_at_all_is_refused(argument: str) -> None:
    done = typed("run", argument)

    assert done.code == 2
    assert done.err.startswith(
        "SCENARIO: must be a scenario file or the name of a scenario that ships"
    )


@pytest.mark.parametrize("options", [["--start", "0"], ["--starts", "2", "--workers", "1"]])
def test_findings_are_in_the_results(tmp_path: Path, options: list[str]) -> None:
    scenario = tiny(tmp_path, "receiver.delay_ms = 300\n")
    finding, *_ = json.loads(typed("run", scenario, "--json", "-", *options).out)["findings"]

    assert finding["where"] == "receiver.delay_ms"
    assert set(finding["proof"]) >= {"before", "after"}
    assert finding["measure"]


def test_findings_of_a_saved_trace_are_those_of_its_start(tmp_path: Path) -> None:
    scenario, trace = (
        tiny(tmp_path, "receiver.delay_ms = 300\n"),
        tmp_path / "start.npz",
    )
    first = typed("run", scenario, "--start", "1", "--trace", trace, "--json", "-")

    assert "the receiver's loop waits" in first.out
    assert typed("run", trace, "--json", "-").out == first.out


def test_the_last_of_two_equal_options_counts(tmp_path: Path) -> None:
    done = typed(
        "run", tiny(tmp_path), "--start", "0", "--json", tmp_path / "r.json", "--json", "-"
    )

    assert done.code == 0
    assert json.loads(done.out)["start"] == 0


def test_the_user_can_stop_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(run, "_many_starts", stop)
    done = typed("run", tiny(tmp_path), "--json", tmp_path / "r.json")

    assert (done.code, done.out, done.err) == (130, "", "stopped\n")
    assert not (tmp_path / "r.json").exists()


def test_rare_trips_are_estimated_on_request(tmp_path: Path) -> None:
    scenario = tiny(tmp_path, "air.loss = 0\n")
    done = typed("run", scenario, "--rare", "--workers", "1", "--json", "-")
    rare = json.loads(done.out)["figures"]["stream"]["drive"]["failsafe"]["rare"]

    assert done.code == 0
    assert rare["trusted"] is False
    assert "nothing is drawn" in rare["why"]


def test_a_saved_trace_has_no_other_futures(tmp_path: Path) -> None:
    trace = tmp_path / "start.npz"
    typed("run", tiny(tmp_path), "--start", "0", "--trace", trace)
    done = typed("run", trace, "--rare")

    assert done.code == 2
    assert "--rare: must be left out with a saved trace" in done.err


def test_the_worst_start_is_written_as_a_waveform(tmp_path: Path) -> None:
    path = tmp_path / "start.vcd"
    done = typed("run", tiny(tmp_path), "--workers", "1", "--json", "-", "--waveform", path)
    drive = json.loads(done.out)["figures"]["stream"]["drive"]

    assert done.code == 0
    assert f"start {drive['longest_gap_start']}." in path.read_text(encoding="utf-8")


def test_a_waveform_of_a_saved_trace_is_that_of_its_start(tmp_path: Path) -> None:
    scenario, trace = tiny(tmp_path), tmp_path / "start.npz"
    typed("run", scenario, "--start", "1", "--trace", trace, "--waveform", tmp_path / "a.vcd")
    typed("run", scenario, "--waveform", tmp_path / "b.vcd", "--waveform-start", "1")
    typed("run", trace, "--waveform", tmp_path / "c.vcd")

    first, *others = ((tmp_path / f"{name}.vcd").read_bytes() for name in "abc")
    assert others == [first, first]


@pytest.mark.slow
def test_a_page_tells_of_the_scenario_and_how_to_make_it_again(tmp_path: Path) -> None:
    scenario, page = tiny(tmp_path), tmp_path / "page.html"

    done = typed("run", scenario, "--page", page, "--set", "transmitter.drive.period_ms=15")
    text = page.read_text(encoding="utf-8")

    assert "Tiny" in done.out
    assert f"radiosim run {scenario} --set transmitter.drive.period_ms=15 --page {page}" in text
    assert "transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 6 }" in text
    assert {path.name for path in tmp_path.iterdir()} == {"tiny.toml", "page.html"}


@pytest.mark.slow
def test_a_page_of_a_saved_trace_shows_its_start(tmp_path: Path) -> None:
    trace, page = tmp_path / "one.trace", tmp_path / "page.html"
    typed("run", tiny(tmp_path), "--start", "1", "--trace", trace)

    typed("run", trace, "--page", page)

    assert "The gaps of start 1." in page.read_text(encoding="utf-8")


@pytest.mark.slow
def test_a_page_of_a_saved_trace_has_the_figures_of_its_start(tmp_path: Path) -> None:
    scenario, trace = tiny(tmp_path), tmp_path / "one.trace"
    typed("run", scenario, "--start", "1", "--trace", trace, "--page", tmp_path / "a.html")

    typed("run", trace, "--page", tmp_path / "b.html")

    figures = [
        re.findall(r"<figure.*?</figure>", (tmp_path / name).read_text("utf-8"), re.DOTALL)
        for name in ("a.html", "b.html")
    ]
    assert figures[0]
    assert figures[0] == figures[1]


@pytest.mark.slow
def test_a_page_changes_no_results(tmp_path: Path) -> None:
    scenario, page = tiny(tmp_path), tmp_path / "page.html"
    plain = typed("run", scenario, "--json", "-", "--csv", tmp_path / "plain")
    drawn = typed("run", scenario, "--json", "-", "--csv", tmp_path / "drawn", "--page", page)

    assert drawn.out == plain.out
    for path in (tmp_path / "plain").iterdir():
        assert (tmp_path / "drawn" / path.name).read_bytes() == path.read_bytes()


def test_a_plain_run_draws_nothing(tmp_path: Path) -> None:
    code = (
        "import sys; from radiosim.cli.app import app\n"
        f"app(['run', {str(tiny(tmp_path))!r}, '--workers', '1'], standalone_mode=False)\n"
        "assert not {'matplotlib', 'jinja2'} & set(sys.modules)"
    )

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)

    assert done.returncode in (0, 1), done.stderr
    assert "AssertionError" not in done.stderr


def test_the_cure_is_written_into_the_scenario_with_its_comments(tmp_path: Path) -> None:
    scenario, target = tiny(tmp_path, "# kept\n"), tmp_path / "cured.toml"
    done = typed("run", scenario, "--set", "starts=1", "--write", target, "--json", "-")
    cure = json.loads(done.out)["cure"]

    assert "wrote" in done.err
    assert cure["set"]
    assert "# kept" in target.read_text(encoding="utf-8")
    # What --set said is in it too.
    lines = ["starts=1", *cure["set"]]
    assert replace(load(target), name="tiny") == load(scenario, lines)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--write", "{}/tiny.toml"], "--write: must not be the scenario itself"),
        (["--write", "-"], "--write: must be a name, got -"),
        (["--write", "{}/x", "--page", "{}/x"], "must be different files"),
        (["--write", "{}/none/x"], "must be in a folder that exists"),
    ],
)
def test_a_target_of_the_cure_is_judged_before_anything_runs(
    tmp_path: Path, words: list[str], said: str
) -> None:
    scenario = tiny(tmp_path)
    before = scenario.read_text(encoding="utf-8")
    done = typed("run", scenario, *(word.format(tmp_path) for word in words))

    assert done.code == 2
    assert said in done.err
    assert scenario.read_text(encoding="utf-8") == before


def test_a_scenario_that_reads_files_is_cured_beside_them(tmp_path: Path) -> None:
    (tmp_path / "stick.csv").write_text("t_s,value\n0,0\n1,1\n", encoding="utf-8")
    line = "transmitter.drive.signals.spare_1={kind='csv', file='stick.csv'}"
    scenario = tiny(tmp_path)
    text = edited(scenario.read_text(encoding="utf-8"), (line,))
    scenario.write_text(text, encoding="utf-8")
    (tmp_path / "other").mkdir()
    refused = typed("run", scenario, "--write", tmp_path / "other" / "cured.toml")
    done = typed("run", scenario, "--write", tmp_path / "cured.toml")

    assert refused.code == 2
    assert "--write: must be in the scenario's own folder" in refused.err
    assert done.code in (0, 1)


def test_a_cured_scenario_has_nothing_left_to_cure(tmp_path: Path) -> None:
    scenario, cured, again = tiny(tmp_path), tmp_path / "cured.toml", tmp_path / "again.toml"
    typed("run", scenario, "--write", cured)
    done = typed("run", cured, "--write", again)

    assert "Change    nothing found" in done.out
    assert "no cure was found" in done.err
    assert not again.exists()
