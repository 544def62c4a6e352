import msgspec
import pytest

from radiosim.results.document import Column, Section, Table
from tests.results.samples import SHEET, STREAMS, changed, figure


def test_a_row_must_fit_its_columns() -> None:
    with pytest.raises(ValueError, match="streams: a row must have 9 values, got 2"):
        msgspec.structs.replace(STREAMS, rows=(("drive", 1.0),))


def test_columns_have_different_keys() -> None:
    with pytest.raises(ValueError, match="x: columns must have different keys, got a, a"):
        Table(key="x", columns=(Column(key="a"), Column(key="a")), rows=())


def test_a_table_on_screens_has_something_to_show() -> None:
    with pytest.raises(ValueError, match="x: a table on screens must have a column there"):
        Table(key="x", columns=(Column(key="a", where="data"),), rows=())


def test_groups_are_by_a_column_of_the_table() -> None:
    with pytest.raises(ValueError, match="x: group_by must be a column, got b"):
        Table(key="x", columns=(Column(key="a"),), rows=(), group_by="b")


def test_neighbouring_rows_of_one_heading_are_a_group() -> None:
    groups = [(heading, len(rows)) for heading, rows in SHEET.groups()]

    assert groups == [("8a drive", 2), ("8b head", 1)]


def test_rows_without_groups_are_one_without_a_heading() -> None:
    assert list(STREAMS.groups()) == [("", STREAMS.rows)]


def test_figures_of_one_name_are_refused() -> None:
    section = Section(heading="x", figures=(figure(), figure()))

    with pytest.raises(ValueError, match="figures of a report must have different names"):
        changed(sections=(section,))


def test_tables_of_one_name_are_refused_if_files_hold_both() -> None:
    with pytest.raises(ValueError, match="got streams, limits, streams"):
        changed(tables=(STREAMS,))

    on_screen = msgspec.structs.replace(STREAMS, where="screen")
    assert len(changed(tables=(on_screen,)).data_tables()) == 2


def test_what_to_change_is_read_first() -> None:
    assert [section.heading for section in changed().ordered_sections()] == [
        "To try",
        "Streams",
        "Failsafe",
    ]


def test_a_heading_has_its_unit() -> None:
    headings = [
        Column(key="a", title=title, unit=unit).heading
        for title, unit in (("gap", "ms"), ("gap", ""), ("", "ms"), ("", ""))
    ]

    assert headings == ["gap, ms", "gap", "ms", ""]
