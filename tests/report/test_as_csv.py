import csv
import io

import msgspec

from radiosim.measure.summary import Summary
from radiosim.report.as_csv import as_csv
from tests.report.samples import one_start, several_starts

TABLES = [
    "run.csv",
    "streams.csv",
    "outputs.csv",
    "failsafe.csv",
    "stopping.csv",
    "faults.csv",
    "requirements.csv",
    "findings.csv",
    "worst.csv",
    "air.csv",
    "receiver.csv",
    "assumed.csv",
]


def table(summary: Summary, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(as_csv(summary)[f"{name}.csv"])))


def test_every_table_is_there_even_without_rows() -> None:
    empty = msgspec.structs.replace(one_start(), requirements=(), worst={}, stopping={})

    assert list(as_csv(several_starts())) == TABLES
    assert list(as_csv(empty)) == TABLES
    assert as_csv(empty)["worst.csv"] == "figure,value,start\n"


def test_figures_come_back_as_they_were() -> None:
    summary = several_starts()
    drive, head = table(summary, "streams")

    figures = summary.figures.stream["drive"]
    assert drive["stream"] == "drive"
    assert float(drive["gap_ms.p99"]) == figures.gap_ms.p99
    assert float(drive["gap_ms.max"]) == figures.gap_ms.max
    assert int(drive["sampled"]) == figures.sampled
    assert float(drive["delivery_ratio_ci95.low"]) == 0.991
    assert drive["battery_h"] == ""
    assert head["delivery_ratio_ci95.low"] == ""


def test_failsafe_has_a_row_only_for_streams_that_have_one() -> None:
    (row,) = table(several_starts(), "failsafe")

    assert row["stream"] == "drive"
    assert row["timeout_ms"] == "250.0"
    assert row["nuisance_per_hour_ci95.high"] == "4.6"


def test_stopping_has_a_row_for_each_output_with_its_terms() -> None:
    rows = table(one_start(), "stopping")

    assert [row["output"] for row in rows] == ["left_track", "lamp", "pan"]
    assert rows[0]["terms_ms.timeout"] == "250.02"
    assert rows[2]["bound_ms"] == ""
    assert rows[2]["why"] == "its stream has no failsafe"


def test_a_verdict_is_true_false_or_empty() -> None:
    assert [row["ok"] for row in table(several_starts(), "requirements")] == ["true", "false", ""]


def test_faults_name_what_each_output_did() -> None:
    (row,) = table(one_start(), "faults")

    assert row["outputs.left_track.reaction_ms"] == "271.4"
    assert row["fault"] == "0"


def test_assumptions_and_warnings_share_a_table() -> None:
    assert [row["kind"] for row in table(one_start(), "assumed")] == ["assumed", "warning"]
