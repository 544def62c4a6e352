"""One thread that works out answers: of each page only the newest question, page after page."""

import queue
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator
from typing import Any, Protocol

from radiosim.study.live.looks import IsOutdated

WAIT_S = 0.1
"""How often a reader who waits looks whether somebody still listens."""
MOST_PAGES = 16
"""Pages whose newest question is known."""


class Answers(Protocol):
    """What works answers out."""

    def read(self, asked: Any) -> Any:
        """The question as it is worked out; RadiosimError if it is none."""

    def answer(self, question: Any, is_outdated: IsOutdated) -> Iterator[bytes]:
        """Lines, one after the other; it ends early once the question is outdated."""


class Answer:
    """Lines as they come, from the worker to one reader."""

    def __init__(self, question: Any) -> None:
        self.question, self.is_left = question, False
        self._lines: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()

    def put(self, line: bytes | None) -> None:
        """One line more; None: that was all."""
        self._lines.put(line)

    def leave(self) -> None:
        """Nobody listens any more."""
        self.is_left = True

    def lines(self, is_gone: Callable[[], bool]) -> Iterator[bytes]:
        """Until the last, or until nobody listens."""
        while not self.is_left:
            try:
                line = self._lines.get(timeout=WAIT_S)
            except queue.Empty:
                if is_gone():
                    self.leave()
                continue
            if line is None:
                return
            yield line


class Worker:
    """Ends with the program."""

    def __init__(self, answers: Answers) -> None:
        self._answers = answers
        self._newest: OrderedDict[str, Answer] = OrderedDict()
        self._waiting: OrderedDict[str, Answer] = OrderedDict()
        self._changed = threading.Condition()
        threading.Thread(target=self._work, name="answers", daemon=True).start()

    def ask(self, page: str, asked: Any) -> Answer:
        """A new question of a page, in place of its last; RadiosimError at once if it is none."""
        answer = Answer(self._answers.read(asked))
        with self._changed:
            older = self._waiting.pop(page, None)
            if older is not None:
                older.put(None)
            self._newest.pop(page, None)
            self._newest[page] = self._waiting[page] = answer
            while len(self._newest) > MOST_PAGES:
                _, left = self._newest.popitem(last=False)
                left.leave()
            self._changed.notify()
        return answer

    def _work(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._waiting)
                page, answer = self._waiting.popitem(last=False)
            try:
                for line in self._answers.answer(answer.question, self._outdated(page, answer)):
                    answer.put(line)
            except Exception as error:
                answer.put(
                    b'{"kind":"refused","problems":["radiosim failed: %s"]}\n'
                    % type(error).__name__.encode()
                )
            answer.put(None)

    def _outdated(self, page: str, answer: Answer) -> IsOutdated:
        return lambda: answer.is_left or self._newest.get(page) is not answer
