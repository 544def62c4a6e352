from html.parser import HTMLParser

import msgspec

from radiosim.results.cell_html import notebook_html
from radiosim.safety import CAUTION
from tests.report.printing import reported
from tests.report.samples import one_start, several_starts


class Read(HTMLParser):
    """The cells of a table, and every tag."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.texts: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def test_a_notebook_shows_a_row_for_each_stream() -> None:
    summary = several_starts()
    read = Read(notebook_html(reported(summary)))

    assert {*summary.figures.stream} <= {*read.texts}
    assert any("FAILED" in text for text in read.texts)


def test_no_text_of_a_scenario_becomes_a_tag() -> None:
    hostile = msgspec.structs.replace(one_start(), title="<script>alert(1)</script>")
    read = Read(notebook_html(reported(hostile)))

    assert "script" not in read.tags
    assert any("<script>" in text for text in read.texts)


def test_a_summary_is_small_in_one_line_and_the_caution_in_another() -> None:
    told, caution = repr(several_starts()).split("\n")

    assert len(told) < 300
    assert caution == CAUTION
