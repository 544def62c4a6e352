"""How rare trips are told."""

import msgspec
import pytest

from radiosim.assess.in_words import time_between
from radiosim.measure.summary import FailsafeFigures, RareFigures
from radiosim.results.data import csv_files, json_text
from tests.report.printing import flat, reported, with_stream
from tests.report.samples import several_starts, stream

SPLIT = RareFigures(
    per_hour=0.002,
    per_hour_ci95=(0.001, 0.004),
    per_frame=1.1e-8,
    trusted=True,
    why="",
    levels_ms=(49.5, 70.0),
    starts=20,
    crossings=900,
    ancestors=200,
    copies=5000,
)
LIMITED = msgspec.structs.replace(
    SPLIT,
    per_hour=None,
    per_frame=None,
    per_hour_ci95=(0.0, 1e-3),
    why="the model does not reach further",
)
DOUBTED = msgspec.structs.replace(SPLIT, trusted=False, why="only 2 starts ever went unfed")
COUNTED = msgspec.structs.replace(SPLIT, levels_ms=(), why="not rare: 99 trips were counted")


def with_rare(rare: RareFigures) -> FailsafeFigures:
    return FailsafeFigures(
        trips_on_fault=0,
        nuisance_trips=0,
        nuisance_per_hour=0.0,
        nuisance_per_hour_ci95=(0.0, 0.553),
        starts_with_nuisance=0,
        seconds_on=0.0,
        rare=rare,
    )


@pytest.mark.parametrize(
    ("rare", "said"),
    [
        (SPLIT, "rare trips: about one in 500 h (250 h to 1,000 h), by splitting"),
        (
            LIMITED,
            "rare trips: less than once in 1,000 h simulated in effect (95 % sure); the model",
        ),
        (DOUBTED, "rare trips: no estimate to trust: only 2 starts ever went unfed"),
    ],
)
def test_the_terminal_tells_how_rare_trips_are(rare: RareFigures, said: str) -> None:
    text = flat(with_stream(several_starts(), "drive", stream(with_rare(rare))))

    assert said in text
    assert "--rare" not in text


def test_what_was_counted_is_not_told_twice() -> None:
    text = flat(with_stream(several_starts(), "drive", stream(with_rare(COUNTED))))

    assert "rare" not in text


@pytest.mark.parametrize(
    ("per_hour", "said"),
    [
        (60.0, "60 s"),
        (6.0, "10 min"),
        (0.1, "10 h"),
        (1e-3, "1,000 h"),
    ],
)
def test_times_between_trips_come_in_the_unit_that_fits(per_hour: float, said: str) -> None:
    assert time_between(per_hour) == said


def test_files_hold_all_of_it() -> None:
    summary = with_stream(several_starts(), "drive", stream(with_rare(SPLIT)))
    document = msgspec.json.decode(json_text(reported(summary)))
    header, row, *_ = csv_files(reported(summary))["failsafe.csv"].splitlines()

    rare = document["figures"]["stream"]["drive"]["failsafe"]["rare"]
    assert rare["per_hour_ci95"] == [0.001, 0.004]
    assert rare["levels_ms"] == [49.5, 70.0]
    assert "rare.per_hour_ci95.low" in header
    assert "49.5; 70" in row


def test_without_an_estimate_no_file_has_a_place_for_one() -> None:
    assert '"rare"' not in json_text(reported(several_starts()))
    assert "rare" not in csv_files(reported(several_starts()))["failsafe.csv"]
