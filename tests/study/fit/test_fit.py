"""A log against its scenario: what holds, what explains what does not, and what is refused."""

import itertools
import os
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.bench_log.read import read_logs
from radiosim.bench_log.records import LogError
from radiosim.safety import CAUTION
from radiosim.scenario import Scenario
from radiosim.study.fit.explained import Explanation, together
from radiosim.study.fit.figure import Figure
from radiosim.study.fit.fit import Fit, fit_logs, names_of
from radiosim.study.fit.judged import chance_of, holm, judged, starts_for
from radiosim.study.fit.setting import Setting
from radiosim.study.fit.written import fitted_text
from tests.cli.typed import typed
from tests.study.fit.samples import LINK, a_fit, link, written_logs


def judged_logs(scenario: Scenario, *paths: Path) -> Fit:
    logs = read_logs([*map(str, paths)], names_of(scenario))
    return fit_logs(scenario, logs, version="0", workers=1)


def test_holms_procedure_is_that_of_its_worked_example() -> None:
    # Four chances at 0.05: S. Holm's steps worked by hand, as in textbooks: 0.005 < 0.05/4,
    # 0.011 < 0.05/3, then 0.02 < 0.05/2, and 0.06 > 0.05/1.
    assert holm([0.02, 0.06, 0.005, 0.011], 0.05) == {0, 2, 3}
    # 0.03 > 0.05/3 stops it: 0.04 is not looked at, although it is below 0.05.
    assert holm([0.005, 0.03, 0.04, 0.04], 0.05) == {0}


@given(st.lists(st.floats(0, 1), min_size=1, max_size=5))
def test_holms_procedure_misses_no_less_than_bonferronis(chances: list[float]) -> None:
    missed = holm(chances, 0.05)

    assert missed >= {k for k, chance in enumerate(chances) if chance * len(chances) < 0.05}
    assert all(chances[place] <= 0.05 * (1 + 1e-9) for place in missed)


def test_a_rank_has_its_chance_whatever_is_drawn() -> None:
    # Of all orders of four values that are drawn alike, each is as likely: chances are exact.
    orders = list(itertools.permutations(range(4)))
    for level in (0.5, 1.0):
        below = sum(chance_of(one, others, 1) <= level for one, *others in orders)
        assert below / len(orders) <= level
    assert chance_of(9, range(4), 1) == 2 / 5
    assert chance_of(2, [2, 2, 2], 1) == 1


@given(st.lists(st.integers(-9, 9), min_size=1, max_size=30), st.integers(-9, 9), st.data())
def test_what_a_log_does_not_tell_apart_makes_no_alarm(
    simulated: list[int], value: int, data: st.DataObject
) -> None:
    def nudged(number: int) -> float:
        return 0.001 * (number + data.draw(st.floats(-0.4, 0.4)))

    chance = chance_of(nudged(value), [nudged(one) for one in simulated], 0.001)

    assert chance == chance_of(value, simulated, 1)


def test_as_many_starts_are_made_as_let_one_of_all_figures_miss() -> None:
    for figures in (1, 6, 14):
        starts = starts_for(figures)
        assert holm([2 / (starts + 1), *[1.0] * (figures - 1)], 0.05) == {0}


def test_a_figure_outside_all_that_is_simulated_is_not_held() -> None:
    figures = {
        key: Figure(key=key, of="drive", what=key, unit="ms", resolution=0.1, value=value)
        for key, value in (("a", 5.0), ("b", 500.0))
    }
    simulated = [{"a": float(k % 10), "b": float(k)} for k in range(starts_for(2))]

    inside, outside = judged(figures, simulated)

    assert inside.is_held
    assert not outside.is_held
    assert outside.chance == pytest.approx(0.025)
    assert outside.low < outside.high < outside.measured


def test_settings_that_explain_what_others_do_not_go_together() -> None:
    def one(line: str, *explains: str) -> Explanation:
        setting = Setting(lines=(line,), measured="")
        return Explanation(setting=setting, explains=explains, breaks=())

    found = (one("k=1", "a", "b"), one("m=1", "b"), one("k=2", "c"), one("n=1", "c"))

    assert [one.setting.lines for one in together(found)] == [("k=1",), ("n=1",)]


def test_the_scenario_is_written_with_its_comments_and_what_was_measured() -> None:
    text = fitted_text(LINK, a_fit())

    assert tomllib.loads(text)["receiver"]["loop_ms"] == 3.2
    line = "# measured: rx.log: a pass of 3.19 to 3.21 ms\nreceiver.loop_ms = 3.2     # guessed\n"
    assert line in text
    kept = text.replace(line, "receiver.loop_ms = 2     # guessed\n")
    assert kept == LINK


def test_a_log_that_is_too_short_is_refused(tmp_path: Path) -> None:
    log = tmp_path / "rx.csv"
    log.write_text("".join(f"{20_000 * k},receiver,read,drive,{k}\n" for k in range(100)))

    with pytest.raises(LogError, match="must go on for 6 s after the first frame"):
        judged_logs(link(), log)


def test_the_command_refuses_in_one_line(tmp_path: Path) -> None:
    scenario = tmp_path / "car.toml"
    scenario.write_text(LINK)
    log = tmp_path / "rx.csv"
    log.write_text("1,receiver,heard,drive,1\n")
    os.mkfifo(tmp_path / "pipe")

    for words, said in (
        ((), "LOG: must be given"),
        ((log,), "rx.csv:1: event must be one of"),
        ((tmp_path / "none.csv",), "cannot be read: No such file"),
        ((tmp_path / "pipe",), "pipe: must be a file, got something else"),
        ((log, "--write", log), "--write: must not be a log that is read"),
    ):
        done = typed("fit", scenario, *words)
        assert done.code == 2
        assert said in done.err
        assert len(done.err.strip().splitlines()) == 1


@pytest.mark.slow
def test_a_hidden_loop_time_is_found_and_written(tmp_path: Path) -> None:
    scenario, fitted = tmp_path / "car.toml", tmp_path / "fitted.toml"
    scenario.write_text(LINK)
    logs = written_logs(tmp_path, "receiver.loop_ms=3.2")

    done = typed("fit", scenario, logs["receiver"], "--write", fitted, "--workers", "1")

    assert done.code == 1
    assert "NOT HELD" in done.out
    assert tomllib.loads(fitted.read_text())["receiver"]["loop_ms"] == pytest.approx(3.2, abs=0.01)
    assert CAUTION.split(";")[0] in " ".join(fitted.read_text().replace("\n#", " ").split())
    again = typed("fit", fitted, logs["receiver"], "--workers", "1")
    assert again.code == 0


@pytest.mark.slow
def test_a_log_of_the_scenario_itself_holds_and_another_stamp_is_told(tmp_path: Path) -> None:
    logs = written_logs(tmp_path, seed=5)

    same = judged_logs(link(), *logs.values())
    log = judged_logs(link().replace(**{"transmitter.drive.retry_limit": 4}), logs["receiver"])

    assert same.ok
    assert same.warnings == ()
    assert any("another scenario's log" in text for text in log.warnings)


@pytest.mark.slow
def test_hidden_work_and_boot_are_each_found_within_their_intervals(tmp_path: Path) -> None:
    hidden = {"receiver.unpack_us": 320.0, "receiver.boot_s": 0.25}
    lines = [f"{key}={value}" for key, value in hidden.items()]
    logs = written_logs(tmp_path, *lines, "duration_s=12.5")

    found = judged_logs(link(), logs["receiver"])

    assert {"boot.receiver", "reading.receiver"} <= {
        row.key for row in found.figures if not row.is_held
    }
    fitted = {setting.keys[0]: setting for setting in found.settings}
    assert set(fitted) == set(hidden)
    for key, value in hidden.items():
        low, high = fitted[key].low, fitted[key].high
        assert low is not None
        assert high is not None
        assert low <= value <= high, key
    assert found.again is not None
    assert len(found.again.lines) == 2
