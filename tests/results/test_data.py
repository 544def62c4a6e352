import dataclasses
import json

import msgspec

from radiosim.results.data import json_of, json_text, record_of, record_table, schema
from tests.results.samples import REPORT, Found


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

    assert json_of(Point(x=1.5)) == '{\n  "x": 1.5,\n  "y": null\n}\n'


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
