import csv
import io
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyarrow import parquet

from radiosim.results import tables
from radiosim.results.data import record_table
from radiosim.results.document import Section
from radiosim.results.tables import (
    TableError,
    array_of,
    csv_files,
    csv_text,
    frame_of,
    frames_of,
    parquet_bytes,
    parquet_files,
)
from tests.results.samples import SHEET, STREAMS, changed


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
                assert cell == value


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
    monkeypatch.setattr(tables, "find_spec", lambda _: None)

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
    monkeypatch.setattr(tables, "find_spec", lambda _: None)

    np.testing.assert_array_equal(frame_of(STREAMS)["samples"], [15000, 12000, 0])


def test_a_frame_is_of_pandas_where_it_is_installed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "find_spec", lambda _: object())
    pandas = SimpleNamespace(DataFrame=lambda arrays: ("frame", list(arrays)))
    monkeypatch.setattr(tables, "import_module", lambda _: pandas)

    assert frame_of(SHEET) == ("frame", [column.key for column in SHEET.columns])
