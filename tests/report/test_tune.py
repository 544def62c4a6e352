"""What a tuning says on screens and in files."""

import json
from typing import Any

import msgspec

from radiosim.report.tune import tune_report
from radiosim.report.tune_sentences import verdict_text
from radiosim.results.data import json_text
from radiosim.results.document import Report, sentences_of
from radiosim.results.terminal import plain_text
from radiosim.safety import LOCAL_RULES
from radiosim.study.tune.tune_results import Recommended, Tuned
from radiosim.study.tune.tuned import tuned
from radiosim.study.tune.varied import grid, parsed
from tests.report.reports import a_tuning, origin_of
from tests.study.tune.points import BEATING
from tests.study.tune.scenarios import two


def report_of(found: Tuned) -> Report:
    return tune_report(found, origin_of("tune"))


def with_best(**changes: Any) -> Tuned:
    """The tuning, its recommendation changed."""
    best = a_tuning().recommended
    assert best is not None
    return msgspec.structs.replace(a_tuning(), recommended=msgspec.structs.replace(best, **changes))


def test_what_to_take_comes_first_as_lines_to_paste() -> None:
    found = a_tuning()
    first = report_of(found).ordered_sections()[0]
    lines = [it.text for it in sentences_of(first.sentences) if it.form == "code"]

    assert first.role == "change"
    assert found.recommended is not None
    assert [line.split("=")[-1] for line in lines] == [
        f"{value:g}" for value in found.recommended.values
    ]
    assert all(line.startswith("--set transmitter.") for line in lines)


def test_the_verdict_says_whether_it_holds_and_was_confirmed() -> None:
    found = a_tuning()
    assert found.recommended is not None
    beats = with_best(beating=(("drive", "head"),))

    assert report_of(found).is_well is True
    assert verdict_text(found).endswith("every requirement holds.")
    assert report_of(beats).is_well is None
    assert verdict_text(beats).startswith("Holds only while clocks do not beat")
    assert report_of(msgspec.structs.replace(found, ok=False)).is_well is False
    assert verdict_text(msgspec.structs.replace(found, ok=False)).startswith("NOT CONFIRMED")
    assert verdict_text(with_best(is_own=True)).startswith("Change nothing")


def test_without_a_point_that_could_be_judged_nothing_is_recommended() -> None:
    nothing = msgspec.structs.replace(
        a_tuning(), recommended=None, confirmed=(), runners_up=(), pareto_front=(), ok=False
    )
    report = report_of(nothing)

    assert report.verdict == "Nothing to recommend: no point could be judged."
    assert "Recommended" not in plain_text(report)
    assert json.loads(json_text(report))["recommended"] is None


def test_clocks_that_beat_are_a_warning_before_all_else() -> None:
    text = plain_text(report_of(with_best(beating=(("drive", "head"),))))

    assert text.index("The clocks of drive and head BEAT") < text.index("--set ")


def test_the_closed_form_of_a_pair_says_how_often_it_beats() -> None:
    found = a_tuning()
    assert found.best is not None
    figures = msgspec.structs.replace(found.best.judged, pairs=(BEATING,))
    points = tuple(
        msgspec.structs.replace(point, figures=figures)
        if found.best.values == point.values
        else point
        for point in found.points
    )
    text = " ".join(plain_text(report_of(msgspec.structs.replace(found, points=points))).split())

    assert "130 frames in a row or more, as often as every 100 s" in text


def test_json_is_the_tuning_as_it_is() -> None:
    text = json_text(report_of(a_tuning()))

    assert msgspec.json.decode(text, type=Tuned) == a_tuning()
    assert list(json.loads(text)["recommended"]) == list(Recommended.__struct_fields__)


def test_files_hold_every_point_and_the_scenario_as_it_stands() -> None:
    tables = {table.key: table for table in report_of(a_tuning()).data_tables()}

    assert set(tables) == {"points", "pairs", "influence"}
    assert len(tables["points"].rows) == len(a_tuning().points) + 1
    assert tables["points"].rows[0][0] == "as it stands"


def test_a_report_on_powers_has_the_caution_whatever_is_recommended() -> None:
    settings = (parsed("transmitter.drive.power_dbm=-6,6"),)
    found = tuned(two(), settings, grid(settings), workers=1)

    (_, power) = report_of(found).cautions
    assert LOCAL_RULES in power
    assert "2400 to 2483.5 MHz" in power
