"""Whose answer is worked out: the newest of each page, all pages in turn, nobody's who is gone."""

import threading
from collections.abc import Iterator

from radiosim.live.turns import Aside, Turn, Turns

LONG_S = 20.0
"""For another thread to do what it does at once."""


def stays() -> bool:
    """A page that is not closed."""
    return False


def run(turn: Turn, lines: "Iterator[bytes | Aside]") -> tuple[threading.Thread, list[bytes]]:
    """A thread that works out an answer, and the lines so far."""
    found: list[bytes] = []
    thread = threading.Thread(target=lambda: found.extend(turn.lines(lines)), daemon=True)
    thread.start()
    return thread, found


def test_a_newer_question_of_a_page_ends_the_older_at_the_next_chunk() -> None:
    turns = Turns()
    older = turns.ask("a", stays)
    chunks = 0

    def answer() -> Iterator[bytes]:
        nonlocal chunks
        while not older.is_outdated():
            chunks += 1
            newer = turns.ask("a", stays)
            assert not newer._is_old()
        yield b"outdated"

    assert list(older.lines(answer())) == [b"outdated"]
    assert chunks == 1


def test_a_question_of_another_page_leaves_it_alone() -> None:
    turns = Turns()
    one, other = turns.ask("a", stays), turns.ask("b", stays)

    assert not one.is_outdated()
    assert not other.is_outdated()
    other.leave()
    assert not one.is_outdated()


def test_a_closed_page_is_worked_on_no_longer() -> None:
    turns = Turns()
    gone = False
    turn = turns.ask("a", lambda: gone)
    seen = []

    def answer() -> Iterator[bytes]:
        nonlocal gone
        seen.append(turn.is_outdated())
        gone = True
        seen.append(turn.is_outdated())
        yield b""

    list(turn.lines(answer()))
    turn.leave()
    assert seen == [False, True]
    assert not turns.newest
    assert not turns.waiting


def test_two_pages_are_both_answered_while_one_would_go_on_for_ever() -> None:
    turns = Turns()
    busy, quick = turns.ask("a", stays), turns.ask("b", stays)
    is_answered, has_begun = threading.Event(), threading.Event()

    def endless() -> Iterator[bytes]:
        has_begun.set()
        while not is_answered.is_set():
            assert not busy.is_outdated()
        yield b"busy"

    def short() -> Iterator[bytes]:
        yield b"quick"
        is_answered.set()

    thread, lines = run(busy, endless())
    assert has_begun.wait(LONG_S)
    other, others = run(quick, short())
    other.join(LONG_S)
    thread.join(LONG_S)
    assert (lines, others) == ([b"busy"], [b"quick"])


def test_what_can_wait_keeps_nobody_waiting() -> None:
    turns = Turns()
    drawing, asking = turns.ask("a", stays), turns.ask("b", stays)
    is_drawing, is_answered = threading.Event(), threading.Event()

    def draw() -> Iterator[bytes]:
        is_drawing.set()
        # Nobody else could be answered while this waited, were it a turn.
        assert is_answered.wait(LONG_S)
        assert not drawing.is_outdated()
        yield b"picture"

    thread, lines = run(drawing, iter((draw,)))
    assert is_drawing.wait(LONG_S)
    assert list(asking.lines(iter((b"look",)))) == [b"look"]
    is_answered.set()
    thread.join(LONG_S)
    assert lines == [b"picture"]
