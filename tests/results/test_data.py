""""""

import csv
import dataclasses
import io
import json
from types import SimpleNamespace

import msgspec
import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from pyarrow import parquet

from radiosim.results import data
from radiosim.results.data import (
    TableError,
    array_of,
    csv_files,
    csv_text,
    frame_of,
    frames_of,
    json_of,
    json_text,
    parquet_bytes,
    parquet_files,
    record_of,
    record_table,
    schema,
)
from radiosim.results.document import Column, Section, Table
from radiosim.safety import CAUTION
from tests.results.samples import REPORT, SHEET, STREAMS, Found, changed

FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


class Inner(msgspec.Struct, frozen=True, kw_only=True):
    p99: float | None
    share_ci95: tuple[float, float]
    times_ms: tuple[float, ...]
    later: float | msgspec.UnsetType = msgspec.UNSET


class Outer(msgspec.Struct, frozen=True, kw_only=True):
    name: str
    gap_ms: Inner
    by_cause: dict[str, int]


OUTER = Outer(
    name="drive",
    gap_ms=Inner(p99=None, share_ci95=(0.1, 0.2), times_ms=(1.0, 2.5)),
    by_cause={"late": 3},
)


def test_json_is_the_data_with_null_for_what_was_not_measured() -> None:
    text = json_text(REPORT)

    assert text.endswith("}\n")
    assert '\n  "starts": 20' in text
    assert json.loads(text)["rates"][1] == {"stream": "head", "rate_hz": None}


def test_data_may_be_a_frozen_dataclass() -> None:
    @dataclasses.dataclass(frozen=True)
    class Point:
        x: float
        y: None = None

    assert json.loads(json_of(Point(x=1.5))) == {"caution": CAUTION, "x": 1.5, "y": None}


def test_json_begins_with_the_caution_and_its_schema_asks_for_it() -> None:
    made = schema(Found)

    assert next(iter(json.loads(json_text(REPORT)))) == "caution"
    assert "caution" in made["$defs"]["Found"]["required"]
    assert made["$comment"] == CAUTION


def test_json_keeps_its_schema() -> None:
    made = schema(Found)

    fields = made["$defs"]["Rate"]["properties"]
    assert fields["rate_hz"]["anyOf"] == [{"type": "number"}, {"type": "null"}]
    assert msgspec.json.decode(json_text(REPORT), type=Found) == REPORT.data


def test_a_struct_becomes_one_flat_record() -> None:
    assert record_of(OUTER) == {
        "name": "drive",
        "gap_ms.p99": None,
        "gap_ms.share_ci95.low": 0.1,
        "gap_ms.share_ci95.high": 0.2,
        "gap_ms.times_ms": "1; 2.5",
        "by_cause.late": 3,
    }
    assert record_of(OUTER, leave_out=("gap_ms", "by_cause")) == {"name": "drive"}


def test_a_table_of_records_has_every_column_of_any() -> None:
    made = record_table("x", [{"a": 1}, {"b": 2.5, "a": 3}], first=("name",))

    assert [column.key for column in made.columns] == ["name", "a", "b"]
    assert made.rows == ((None, 1, None), (None, 3, 2.5))
    assert made.where == "data"


def read(content: bytes) -> dict[str, list[object]]:
    found: dict[str, list[object]] = parquet.read_table(io.BytesIO(content)).to_pydict()
    return found


def test_csv_has_values_as_measured_and_not_as_shown() -> None:
    rows = list(csv.DictReader(io.StringIO(csv_text(STREAMS))))

    assert rows[0]["gap_ms.max"] == "5030.0"
    assert rows[0]["samples"] == "15000"
    assert rows[2]["rate_hz"] == ""
    assert "range" not in rows[0]


values = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text()


@given(st.lists(st.tuples(values, values), max_size=5))
@example([('a "gap"', '"'), ("a, b", "two\nlines")])
def test_csv_can_be_read_back_whatever_it_holds(rows: list[tuple[object, object]]) -> None:
    text = csv_text(record_table("x", [{"a": a, "b": b} for a, b in rows], first=("a", "b")))

    names, *found = csv.reader(io.StringIO(text, newline=""))

    assert names == ["a", "b"]
    assert len(found) == len(rows)
    for told, row in zip(found, rows, strict=True):
        for cell, value in zip(told, row, strict=True):
            if isinstance(value, float):
                assert float(cell) == value
            elif isinstance(value, str):
                assert cell.removeprefix("'" if value[:1] in FORMULA else "") == value


def test_only_tables_for_files_become_files() -> None:
    report = changed(
        sections=(Section(tables=(STREAMS, SHEET)),), tables=(record_table("air", [{"a": 1}]),)
    )

    assert list(csv_files(report)) == ["streams.csv", "air.csv"]
    assert list(parquet_files(report)) == ["streams.parquet", "air.parquet"]
    assert list(frames_of(report)) == ["streams", "air"]


def test_parquet_has_a_type_for_each_column() -> None:
    found = read(parquet_bytes(STREAMS))

    assert found["samples"] == [15000, 12000, 0]
    assert found["gap_ms.max"] == [5030.0, 71.0, None]
    assert found["verdict"] == ["cut by a fault", "steady", "never heard"]


def test_parquet_takes_columns_of_mixed_values() -> None:
    mixed = record_table(
        "x",
        [
            {"ok": True, "either": 1, "big": 1 << 70, "any": True, "none": None},
            {"ok": None, "either": 2.5, "big": 1, "any": "text", "none": None},
        ],
    )

    assert read(parquet_bytes(mixed)) == {
        "ok": [True, None],
        "either": [1.0, 2.5],
        "big": [float(1 << 70), 1.0],
        "any": ["true", "text"],
        "none": [None, None],
    }


def test_without_its_library_parquet_says_how_to_install_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(data, "find_spec", lambda _: None)

    with pytest.raises(TableError, match=r"--parquet: needs pyarrow: python -m pip install"):
        parquet_files(changed())


@pytest.mark.parametrize(
    ("column", "kind"),
    [
        ([1, 2], np.int64),
        ([1, None], np.float64),
        ([1, 2.5], np.float64),
        ([True, False], np.bool_),
        ([True, None], np.object_),
        (["a", None], np.object_),
        ([None, None], np.float64),
        ([], np.float64),
    ],
)
def test_arrays_have_the_type_of_their_values(column: list[object], kind: type) -> None:
    assert array_of(column).dtype == kind


def test_what_was_not_measured_is_nan_in_an_array() -> None:
    np.testing.assert_array_equal(array_of([1.5, None]), [1.5, np.nan])


def test_a_frame_is_of_arrays_where_pandas_is_not_installed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(data, "find_spec", lambda _: None)

    np.testing.assert_array_equal(frame_of(STREAMS)["samples"], [15000, 12000, 0])


def test_a_frame_is_of_pandas_where_it_is_installed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(data, "find_spec", lambda _: object())
    pandas = SimpleNamespace(DataFrame=lambda arrays: ("frame", list(arrays)))
    monkeypatch.setattr(data, "import_module", lambda _: pandas)

    assert frame_of(SHEET) == ("frame", [column.key for column in SHEET.columns])


@pytest.mark.parametrize("start", FORMULA)
def test_a_text_that_begins_like_a_formula_is_harmless_and_a_number_is_a_number(
    start: str,
) -> None:
    text = f"{start}HYPERLINK(1)"
    table = Table(key="a", columns=(Column(key=text), Column(key="n")), rows=((text, -1.5),))

    (head, row) = csv.reader(io.StringIO(csv_text(table), newline=""))

    assert head == [f"'{text}", "n"]
    assert row == [f"'{text}", "-1.5"]
