"""Lines that programs read whole, and people wrapped."""

import io
import logging

import pytest

from radiosim.cli.console import code_of, columns_of_terminal, print_lines

LINE = (
    "scenario.toml:31: transmitter.drive.period_ms: must be a number > 0, got -5, and so on and on"
)


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def printed(stream: io.StringIO, *lines: str) -> list[str]:
    print_lines(lines, stream)
    return stream.getvalue().splitlines()


def test_a_line_stays_whole_where_no_terminal_is() -> None:
    assert printed(io.StringIO(), LINE * 3, "  short") == [LINE * 3, "  short"]


@pytest.mark.parametrize(("columns", "widest"), [("80", 80), ("200", 80), ("40", 40)])
def test_a_long_line_is_wrapped_on_a_terminal(
    monkeypatch: pytest.MonkeyPatch, columns: str, widest: int
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    lines = printed(Terminal(), LINE)

    assert lines[0].startswith("scenario.toml:31:")
    assert max(map(len, lines)) <= widest
    assert all(line.startswith("    ") for line in lines[1:])
    assert " ".join(line.strip() for line in lines) == LINE


def test_a_word_wider_than_the_terminal_stays_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "10")

    assert "transmitter.drive.period_ms:" in " ".join(printed(Terminal(), LINE)).split()
    assert printed(Terminal(), "short") == ["short"]


@pytest.mark.parametrize(("columns", "width"), [("0", 80), ("1", 20), ("40", 40), ("300", 80)])
def test_a_terminal_of_no_columns_has_not_told_its_width(
    columns: str, width: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)

    assert columns_of_terminal() == width


def test_what_a_library_logs_is_not_for_a_user(capsys: pytest.CaptureFixture[str]) -> None:
    def logs() -> int:
        # Of no hierarchy, so that nothing but the last resort takes what it says.
        logging.Logger("a library").warning("its folder cannot be made")
        return 0

    assert logs() == 0
    assert capsys.readouterr().err == "its folder cannot be made\n"
    assert code_of(logs) == 0
    assert capsys.readouterr().err == ""
