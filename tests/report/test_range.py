"""How far each stream reaches, as a report."""

import csv
import io
import json
from dataclasses import replace

import msgspec
import pytest

from radiosim.report.range import limit_text, range_report
from radiosim.results.data import csv_files, json_text
from radiosim.results.terminal import plain_text
from radiosim.study.range import Limit, Reach
from tests.report.reports import a_range, a_reach, origin_of


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


def test_what_is_not_judged_is_not_said_to_hold() -> None:
    limit = Limit(
        requirement="x at most 1",
        distance_m=(328.0, 700.0),
        is_open=(False, False),
        unjudged="too short",
    )
    found = replace(a_reach()[1], limits=(limit,))
    text = " ".join(plain_text(range_report(found, a_reach()[0], origin_of("range"))).split())

    assert "1 of 1 requirement cannot be judged; none surely fails up to about 300 m" in text
    assert "not judged, surely fails nowhere up to 300" in text
    assert "holds up" not in text


def test_the_terminal_tells_the_verdict_before_the_figures() -> None:
    text = plain_text(a_range())

    parts = ("in the worse case.", "How far the requirements hold", "What arrives", "propellers")
    places = [text.index(part) for part in parts]
    assert places == sorted(places)


def test_a_table_has_a_row_for_each_distance_with_everything_in_80_columns() -> None:
    lines = plain_text(a_range()).splitlines()

    first = lines.index("drive")
    told = [f"{float(f'{point.distance_m:.2g}'):g}" for point in a_reach()[1].streams["drive"]]
    assert [line.split()[0] for line in lines[first + 1 : first + 5]] == told
    assert max(map(len, lines)) <= 80


def test_files_hold_the_three_numbers_of_each_band() -> None:
    files = csv_files(a_range())
    rows = list(csv.DictReader(io.StringIO(files["range.csv"])))
    points = a_reach()[1].streams["drive"]

    assert [float(row["delivery_ratio.least"]) for row in rows] == [
        point.delivery_ratio.least for point in points
    ]
    assert [float(row["longest_gap_ms.most"]) for row in rows] == [
        point.longest_gap_ms.most for point in points
    ]
    assert files["limits.csv"].startswith("requirement,from_m,to_m\n")


def test_json_is_the_range_itself() -> None:
    text = json_text(a_range())

    assert msgspec.json.decode(text, type=Reach) == a_reach()[1]
    assert json.loads(text)["unknown_db"] == 6.0
