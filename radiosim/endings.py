"""What must not outlive the program: files that are half written, processes, a hidden cursor.

Whoever makes one says beforehand how it is taken away. A program that a signal ends takes all of
it away at once, wherever it is, and goes.
"""

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

_lock = threading.RLock()
_left: list[Callable[[], object]] = []
_begun: list[None] = []
"""One for each that must be done before an end, and is not yet, by whoever holds the lock."""
_asked: list[tuple[int, str]] = []
"""An end that came meanwhile, to the very thread that does it."""


@contextmanager
def taken_away_at_an_end(take_away: Callable[[], object]) -> Iterator[None]:
    """While this lasts, an end of the program calls `take_away`; nobody else does."""
    with _lock:
        _left.append(take_away)
    try:
        yield
    finally:
        with _lock:
            _left.remove(take_away)


@contextmanager
def before_any_end() -> Iterator[None]:
    """What is done here is done before the program ends, or not at all; it must not take long."""
    with _lock:
        _begun.append(None)
        try:
            yield
        finally:
            _begun.pop()
            if _asked and not _begun:
                end(*_asked[0])


def end(code: int, last_words: str = "") -> None:
    """Take away what is left, the latest first, and end the program.

    It may be called at any instant, by any thread: nothing else runs on in what is taken away. By
    a signal amid what must be done before an end, the program ends right after that.
    """
    with _lock:
        if _begun:
            _asked.append((code, last_words))
            return
        for take_away in reversed(_left):
            with suppress(Exception):
                take_away()
        with suppress(OSError):
            # Not through a stream: whoever is interrupted may be in the midst of writing to it.
            os.write(2, last_words.encode())
        os._exit(code)
