import io

import msgspec
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console

from radiosim.results.document import Column, Report, Section, Sentence, Table
from radiosim.results.terminal import plain_text, print_report
from tests.examples import examples
from tests.results.samples import PAPER, REPORT, STREAMS, changed, figure

WIDE = 200


@pytest.mark.parametrize("report", [REPORT, PAPER])
@pytest.mark.parametrize("width", range(36, 130, 4))
def test_no_line_is_wider_than_the_terminal(report: Report, width: int) -> None:
    assert max(map(cell_len, plain_text(report, width).splitlines())) <= width


@pytest.mark.parametrize("width", range(40, 130, 6))
def test_every_value_is_there_at_every_width(width: int) -> None:
    shown = [
        column.text(value)
        for row in STREAMS.rows
        for column, value in zip(STREAMS.columns, row, strict=True)
        if value is not None and column.where != "data"
    ]

    said = " ".join(plain_text(REPORT, width).split())

    for text in shown:
        assert said.count(text) >= shown.count(text)


texts = st.text(min_size=1, max_size=60)


@example([(15 * "0", 12 * "0", None)], 30)
@examples(60)
@given(
    st.lists(st.tuples(texts, texts, st.floats(0, 1e6) | st.none()), min_size=1, max_size=4),
    st.integers(30, 100),
)
def test_texts_of_any_kind_stay_within_the_width(
    rows: list[tuple[str, str, float | None]], width: int
) -> None:
    table = Table(
        key="x",
        columns=(
            Column(key="a", title="name"),
            Column(key="b", title="what is said of it", is_text=True),
            Column(key="c", title="longest gap", unit="ms", priority=1),
        ),
        rows=tuple(rows),
    )
    sentence = Sentence(lead=rows[0][0], text=rows[0][1], role="bad")
    report = changed(sections=(Section(heading="h", sentences=(sentence,), tables=(table,)),))

    lines = plain_text(report, width).split("\n")

    assert max(map(cell_len, lines)) <= width
    assert all(letter.isprintable() for line in lines for letter in line)


def test_columns_of_low_priority_go_below_their_row_first() -> None:
    lines = plain_text(REPORT, 80).splitlines()

    row = next(k for k, line in enumerate(lines) if line.startswith("drive "))
    assert lines[row].split() == [
        *(
            "drive",
            "48.9",
            "23.0",
            "!",
            "5.03",
            "s",
            "19.5",
            "to",
            "24.0",
            "cut",
            "by",
            "a",
            "fault",
        )
    ]
    assert lines[row + 1] == "    worst start 48.8 values/s · median latency 1.43 ms"


def test_a_table_with_room_has_one_line_a_row() -> None:
    lines = plain_text(REPORT, WIDE).splitlines()

    row = next(k for k, line in enumerate(lines) if line.startswith("drive "))
    assert lines[row + 1].startswith("head_of_the_crawler")
    assert "·" not in plain_text(REPORT, WIDE)


def test_what_was_not_measured_is_not_said_below_its_row() -> None:
    lines = plain_text(REPORT, 80).splitlines()

    row = next(k for k, line in enumerate(lines) if line.startswith("spare "))
    assert lines[row + 1] == "Gap: from one fresh value to the next."


def test_a_number_that_stands_out_has_a_mark_and_a_word_has_none() -> None:
    text = plain_text(REPORT, WIDE)

    assert "! 5.03 s" in text
    assert "! cut by a fault" not in text


def test_without_colours_there_are_no_escape_codes_and_with_them_the_same_words() -> None:
    coloured = io.StringIO()
    console = Console(file=coloured, width=80, force_terminal=True, color_system="standard")
    print_report(REPORT, console)

    assert "\x1b" not in plain_text(REPORT)
    assert "\x1b[1;31m" in coloured.getvalue()
    stripped = Console(file=io.StringIO(), width=80, color_system=None)
    print_report(REPORT, stripped)
    assert plain_text(REPORT) == stripped.file.getvalue()  # type: ignore[attr-defined]  # a StringIO


def test_a_terminal_that_lacks_a_letter_gets_another() -> None:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii")
    print_report(REPORT, Console(file=stream, width=80, color_system=None))
    stream.flush()

    assert b"worst start 48.8 values/s; median latency 1.43 ms" in raw.getvalue()


def test_the_verdict_stands_before_what_to_change_and_cautions_last() -> None:
    text = plain_text(REPORT)

    places = [
        text.index(part) for part in ("FAILED: lamp", "! lamp", "To try", "Streams", "A simulation")
    ]
    assert places == sorted(places)


def test_a_sheet_has_boxes_to_tick_and_blanks_to_write_in() -> None:
    lines = plain_text(PAPER).splitlines()

    assert "Date ________  Units ________" in lines
    assert "[ ] 8. Off and on again" in lines
    assert "  [ ] pan, tilt: untouched" in lines
    assert "  reboot, ms D: 88 to 120 ________" in lines
    assert any(line.count("________") == 2 and "left_track" in line for line in lines)


def test_a_blank_goes_below_with_its_value() -> None:
    assert "back, ms D 88.5 to 121 measured ________" in " ".join(plain_text(PAPER, 44).split())


def test_further_sections_are_for_those_who_ask() -> None:
    section = Section(heading="Energy", sentences=("It takes 12 mAh.",), is_more=True)
    report = changed(sections=(section,))

    assert "Energy" not in plain_text(report)
    assert "It takes 12 mAh." in plain_text(report, is_more=True)


def test_sections_for_pages_are_left_out() -> None:
    section = Section(heading="Energy", sentences=("It takes 12 mAh.",), where="page")

    assert "Energy" not in plain_text(changed(sections=(section,)))


def test_a_figure_without_letters_leaves_no_heading_behind() -> None:
    bare = Section(heading="A picture", figures=(figure(),))
    lettered = Section(heading="A chart", figures=(figure("chart", letters=("|__", "|##")),))

    text = plain_text(changed(sections=(bare, lettered)))

    assert "A picture" not in text
    assert "A chart\n|__\n|##\n" in text


def test_leads_stand_in_a_column_and_long_ones_above_their_text() -> None:
    sentences = (
        Sentence(lead="WHY", text="It hangs."),
        Sentence(lead="MEASURE", text="Ten times."),
        Sentence(lead="a lead that is longer than half a line", text="Below."),
    )
    report = changed(sections=(Section(heading="h", sentences=sentences),))

    assert plain_text(report).split("h\n")[1].splitlines()[:4] == [
        "  WHY      It hangs.",
        "  MEASURE  Ten times.",
        "  a lead that is longer than half a line",
        "    Below.",
    ]


def test_a_folded_name_keeps_all_its_letters() -> None:
    name = "a_name_that_is_longer_than_any_column_of_a_table_can_be"
    table = msgspec.structs.replace(STREAMS, rows=((name, *STREAMS.rows[0][1:]),))

    text = plain_text(changed(sections=(Section(tables=(table,)),)), 60)

    assert name in "".join(line.split(" ")[0] for line in text.splitlines())
