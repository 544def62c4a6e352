"""How far each stream reaches, as a report."""

import csv
import io
import json

import msgspec
import pytest

from radiosim.report.range import limit_text
from radiosim.results.data import csv_files, json_text
from radiosim.results.terminal import plain_text
from radiosim.study.range import Limit, Reach
from tests.report.reports import a_range, a_reach


@pytest.mark.parametrize(
    ("distances", "is_open", "said"),
    [
        ((5000.0, 5000.0), (True, True), "holds as far as was looked, 5000 m"),
        ((50.0, 5000.0), (False, True), "stops holding between 50 m and far beyond 5000 m"),
        ((0.0, 0.0), (False, False), "does not hold at any distance that was looked at"),
        ((50.0, 200.0), (False, False), "stops holding somewhere from 50 m to 200 m"),
    ],
)
def test_where_a_requirement_stops_holding_is_said(
    distances: tuple[float, float], is_open: tuple[bool, bool], said: str
) -> None:
    limit = Limit(requirement="x at most 1", distance_m=distances, is_open=is_open)

    assert limit_text(limit).replace("\N{NO-BREAK SPACE}", " ") == said


def test_the_terminal_tells_the_verdict_before_the_figures() -> None:
    text = plain_text(a_range())

    parts = ("in the worse case.", "How far the requirements hold", "What arrives", "propellers")
    places = [text.index(part) for part in parts]
    assert places == sorted(places)


def test_a_table_has_a_row_for_each_distance_with_everything_in_80_columns() -> None:
    lines = plain_text(a_range()).splitlines()

    first = lines.index("drive")
    assert [line.split()[0] for line in lines[first + 1 : first + 5]] == ["5", "50", "500", "5000"]


def test_files_hold_the_three_numbers_of_each_band() -> None:
    files = csv_files(a_range())
    rows = list(csv.DictReader(io.StringIO(files["range.csv"])))
    points = a_reach()[1].streams["drive"]

    assert [float(row["delivery_ratio.low"]) for row in rows] == [
        point.delivery_ratio.low for point in points
    ]
    assert [float(row["longest_gap_ms.high"]) for row in rows] == [
        point.longest_gap_ms.high for point in points
    ]
    assert files["limits.csv"].startswith("requirement,from_m,to_m\n")


def test_json_is_the_range_itself() -> None:
    text = json_text(a_range())

    assert msgspec.json.decode(text, type=Reach) == a_reach()[1]
    assert json.loads(text)["unknown_db"] == 6.0
