import io
import sys
import threading
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path

import pytest
from rich.console import Console

from radiosim.cli import progress_bar
from radiosim.cli.progress_bar import progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def terminal(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    """Standard error from here on; a fixture would set it before the test's own begins."""
    stream = Terminal()
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys, "stderr", stream)
    return stream


def test_without_a_terminal_there_is_no_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", io.StringIO())

    with progress(3) as on_progress:
        assert on_progress is None


def test_a_short_run_shows_no_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    looked_at = terminal(monkeypatch)

    with progress(3, patience_s=1000.0) as on_progress:
        assert on_progress is not None
        on_progress(1, 3)

    assert looked_at.getvalue() == ""


def test_a_bar_shows_before_the_first_start_is_over(monkeypatch: pytest.MonkeyPatch) -> None:
    looked_at, before = terminal(monkeypatch), threading.active_count()

    with progress(3, patience_s=0.0) as on_progress:
        assert on_progress is not None
        assert threading.active_count() == before
        on_progress(0, 3)
        for thread in threading.enumerate():
            if isinstance(thread, threading.Timer):
                thread.join()

    assert "0/3" in looked_at.getvalue()
    assert "took" in looked_at.getvalue()


def test_an_end_while_a_bar_is_taken_off_shows_the_cursor_again(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    kept: list[Callable[[], object]] = []
    show_cursor = Console.show_cursor
    shown = threading.Event()

    def ended_before(console: Console, show: bool = True) -> bool:
        if show:
            kept[0]()
        shown.set()
        return show_cursor(console, show)

    monkeypatch.setattr(Console, "show_cursor", ended_before)
    monkeypatch.setattr(
        progress_bar, "taken_away_at_an_end", lambda take_away: nullcontext(kept.append(take_away))
    )
    stream = terminal(monkeypatch)
    with (tmp_path / "screen").open("w+b") as screen:
        stream.fileno = screen.fileno  # type: ignore[method-assign]
        with progress(3, patience_s=0.0) as on_progress:
            assert on_progress is not None
            on_progress(1, 3)
            assert shown.wait(60)
        screen.seek(0)
        assert screen.read().endswith(b"\x1b[?25h")


def test_nothing_is_painted_after_an_end_and_what_was_begun_is_whole() -> None:
    looked_at = Terminal()
    screen = progress_bar._Screen(looked_at)
    begun, may_go_on = threading.Event(), threading.Event()
    write = looked_at.write

    def slowly(text: str) -> int:
        begun.set()
        may_go_on.wait()
        return write(text)

    looked_at.write = slowly  # type: ignore[method-assign]
    painter = threading.Thread(target=screen.write, args=("begun",))
    painter.start()
    begun.wait()
    ended = threading.Thread(target=lambda: (screen.be_quiet(), write(", ended")))
    ended.start()
    may_go_on.set()
    painter.join()
    ended.join()
    screen.write("late")

    assert looked_at.getvalue() == "begun, ended"
