"""Whose answer is worked out: one at a time, of each page the newest, those first that had least.

Every answer is worked out in the thread of its own connection; a turn is held while it is, handed
over between two chunks of rows, and never held while a line is sent. What can wait, such as
pictures, is worked out beside the turns: it keeps no newer question waiting.
"""

import threading
import time
from collections.abc import Callable, Iterator

Aside = Callable[[], Iterator[bytes]]
"""Lines that can wait."""
AHEAD_S = 0.05
"""Who has had so much more than one who waits gives way."""


class Turns:
    """The answers under way."""

    def __init__(self) -> None:
        self.changed = threading.Condition()
        self.newest: dict[str, Turn] = {}
        self.waiting: list[Turn] = []
        self.holder: Turn | None = None

    def ask(self, page: str, is_gone: Callable[[], bool]) -> "Turn":
        """A page's newest question; what it asked before is outdated. To be left."""
        turn = Turn(self, page, is_gone)
        with self.changed:
            self.newest[page] = turn
            self.changed.notify_all()
        return turn


class Turn:
    """One answer: whether somebody still waits for it, and when it is worked on."""

    def __init__(self, turns: Turns, page: str, is_gone: Callable[[], bool]) -> None:
        self._turns, self._page, self._is_gone = turns, page, is_gone
        self._had_s, self._since_s = 0.0, 0.0

    def is_outdated(self) -> bool:
        """Whether nobody waits for it any more; lets others have their turn.

        To be called while it is worked on, between any two chunks of rows.
        """
        if self._is_old() or self._is_gone():
            return True
        if self._turns.holder is not self:
            return False
        with self._turns.changed:
            had_s = self._had_s + time.monotonic() - self._since_s
            others = [turn for turn in self._turns.waiting if turn._had_s + AHEAD_S < had_s]
            if others:
                self._give()
                self._take()
        return self._is_old()

    def lines(self, coming: "Iterator[bytes | Aside]") -> Iterator[bytes]:
        """Lines as they are worked out, each in a turn or beside them; until there are no more."""
        while True:
            with self._turns.changed:
                self._take()
            try:
                line = next(coming, None)
            finally:
                with self._turns.changed:
                    self._give()
            if line is None:
                return
            yield from line() if callable(line) else (line,)

    def leave(self) -> None:
        """Nobody waits for it any more."""
        with self._turns.changed:
            if not self._is_old():
                del self._turns.newest[self._page]

    def _is_old(self) -> bool:
        return self._turns.newest.get(self._page) is not self

    def _take(self) -> None:
        """Wait for a turn: who is outdated has one at once, to see that it is."""
        turns = self._turns
        turns.waiting.append(self)
        turns.changed.wait_for(self._is_next)
        turns.waiting.remove(self)
        turns.holder, self._since_s = self, time.monotonic()

    def _is_next(self) -> bool:
        turns = self._turns
        first = min(turns.waiting, key=lambda turn: (not turn._is_old(), turn._had_s))
        return turns.holder is None and first is self

    def _give(self) -> None:
        self._had_s += time.monotonic() - self._since_s
        self._turns.holder = None
        self._turns.changed.notify_all()
