"""What files hold of a run: JSON of one shape, tables with every figure."""

import csv
import io
import json
from typing import Any

import msgspec

from radiosim.measure.summary import Summary
from radiosim.results.data import csv_files, json_text
from tests.report.printing import reported
from tests.report.samples import one_start, several_starts

KEYS = [
    "caution",
    *("scenario", "title", "seed", "start", "starts", "first_start", "starts_around_beats"),
    *("duration_s", "version", "engine", "assumed", "warnings"),
    *("figures", "worst", "reaction", "requirements", "findings", "cure"),
]
TABLES = {
    *("run", "streams", "outputs", "failsafe", "reaction", "faults", "requirements"),
    *("findings", "cure", "worst", "air", "receiver", "assumed"),
}


def document(summary: Summary) -> Any:
    return json.loads(json_text(reported(summary)))


def keys_in(value: Any) -> set[str]:
    if isinstance(value, dict):
        return set(value).union(*map(keys_in, value.values()))
    if isinstance(value, list):
        return set[str]().union(*map(keys_in, value))
    return set()


def files(summary: Summary) -> dict[str, str]:
    return csv_files(reported(summary))


def table(summary: Summary, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(files(summary)[f"{name}.csv"])))


def test_json_has_one_shape_for_one_start_and_for_several() -> None:
    one, several = document(one_start()), document(several_starts())

    assert list(one) == list(several) == KEYS
    assert list(one["figures"]) == list(several["figures"])
    assert (one["start"], one["starts"], one["worst"]) == (3, 1, {})
    assert (several["start"], several["starts"]) == (None, 40)
    assert several["worst"]["stream.drive.gap_ms.max"] == {"value": 412.345, "start": 17}


def test_json_has_the_figures_as_they_are() -> None:
    figures = document(one_start())["figures"]

    assert figures["stream"]["drive"]["gap_ms"]["median"] == 20.0
    assert figures["stream"]["head"]["failsafe"] is None
    assert figures["faults"][0]["outputs"]["lamp"]["action"] == "off"


def test_one_start_has_no_intervals_and_several_have() -> None:
    one, several = keys_in(document(one_start())), document(several_starts())
    failsafe = several["figures"]["stream"]["drive"]["failsafe"]

    assert not [key for key in one if key.endswith("_ci95")]
    assert "starts_with_nuisance" not in one
    assert failsafe["nuisance_per_hour_ci95"] == [0.21, 4.6]


def test_findings_that_nobody_looked_for_are_null_and_none_found_is_empty() -> None:
    unsought = msgspec.structs.replace(one_start(), findings=None)

    assert document(unsought)["findings"] is None
    assert document(one_start())["findings"] == []
    assert files(unsought)["findings.csv"] == files(one_start())["findings.csv"]


def test_what_was_not_judged_is_null() -> None:
    requirements = document(several_starts())["requirements"]

    assert [requirement["ok"] for requirement in requirements] == [True, False, None]
    assert requirements[2]["measured"] is None


def test_every_table_is_there_even_without_rows() -> None:
    empty = msgspec.structs.replace(one_start(), requirements=(), worst={}, reaction={})

    assert set(files(several_starts())) == {f"{name}.csv" for name in TABLES}
    assert set(files(empty)) == {f"{name}.csv" for name in TABLES}
    assert files(empty)["worst.csv"] == "figure,value,start\n"


def test_figures_come_back_as_they_were() -> None:
    summary = several_starts()
    drive, head = table(summary, "streams")

    figures = summary.figures.stream["drive"]
    assert drive["stream"] == "drive"
    assert float(drive["gap_ms.p99"]) == figures.gap_ms.p99
    assert float(drive["gap_ms.max"]) == figures.gap_ms.max
    assert int(drive["sampled"]) == figures.sampled
    assert float(drive["delivery_ratio_ci95.low"]) == 0.991
    assert drive["verdict"] == "starves"
    assert drive["battery_h"] == ""
    assert head["delivery_ratio_ci95.low"] == ""


def test_failsafe_has_a_row_only_for_streams_that_have_one() -> None:
    (row,) = table(several_starts(), "failsafe")

    assert row["stream"] == "drive"
    assert row["timeout_ms"] == "250.0"
    assert row["nuisance_per_hour_ci95.high"] == "4.6"


def test_reaction_has_a_row_for_each_output_with_its_terms() -> None:
    rows = table(one_start(), "reaction")

    assert [row["output"] for row in rows] == ["left_track", "lamp", "pan"]
    assert rows[0]["terms_ms.timeout"] == "250.02"
    assert rows[2]["bound_ms"] == ""
    assert rows[2]["why"] == "its stream has no failsafe"


def test_a_verdict_is_true_false_or_empty_the_failed_first() -> None:
    assert [row["ok"] for row in table(several_starts(), "requirements")] == ["false", "", "true"]


def test_faults_name_what_each_output_did() -> None:
    (row,) = table(one_start(), "faults")

    assert row["outputs.left_track.reaction_ms"] == "271.4"
    assert (row["fault"], row["kind"], row["unit"]) == ("0", "power_off", "drive")


def test_assumptions_and_warnings_share_a_table() -> None:
    assert [row["kind"] for row in table(one_start(), "assumed")] == ["assumed", "warning"]
