"""A bench: a process that runs a receiver's program through one start after the other."""

import shutil
import tempfile
import threading
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from subprocess import TimeoutExpired
from typing import Any

import numpy as np

from radiosim.child_process import end_group, run_program, start_program
from radiosim.endings import before_any_end, taken_away_at_an_end
from radiosim.errors import FirmwareError
from radiosim.firmware.script import OUT, REPLY, TAKE, Reply, Script
from radiosim.trace import Table

LONGEST_S = 120.0
"""Real time for one start: a program that waits for something else is ended then."""
_MOST_SHOWN = 400
_LONGEST_LOOK_S = 60.0


class Bench:
    """One process; starts are given one at a time."""

    def __init__(
        self,
        arguments: list[str],
        executable: Path,
        longest_s: float,
        seen: np.dtype[Any] | None = None,
    ) -> None:
        self.executable = executable
        self.is_emulated = arguments[0] != str(executable)
        self.traps = False
        """Whether it was built to end where it does what C leaves undefined."""
        self._seen = seen
        self._longest_s = longest_s
        self._printed = tempfile.TemporaryFile()  # noqa: SIM115 - closed in `close`
        try:
            self._process = start_program(arguments, self._printed)
        except OSError as error:
            self._printed.close()
            raise FirmwareError(f"{executable}: cannot be run: {error.strerror}") from None

    def run(self, script: Script) -> Reply:
        """What the program does in one start; FirmwareError if the bench itself does not reply."""
        is_late = threading.Event()

        def give_up() -> None:
            is_late.set()
            end_group(self._process)

        timer = threading.Timer(self._longest_s, give_up)
        timer.daemon = True
        timer.start()
        try:
            return self._reply(script)
        except (OSError, EOFError):
            if is_late.is_set():
                raise FirmwareError(
                    f"the program did not come back in {self._longest_s:g} s of real time: it "
                    "waits for something that a bench does not have"
                ) from None
            code = self._process.wait()
            raise FirmwareError(f"the bench ended with code {code}: {self._shown()[0]}") from None
        finally:
            timer.cancel()

    @property
    def group(self) -> int:
        """The number of its group of processes."""
        return self._process.pid

    def end(self) -> None:
        """End it at once, with all that it started."""
        end_group(self._process)

    def close(self) -> None:
        """End it, and let go of its pipes."""
        for pipe in (self._process.stdin, self._process.stdout):
            assert pipe is not None
            with suppress(OSError):
                pipe.close()
        self.end()
        self._process.wait()
        self._printed.close()

    def _reply(self, script: Script) -> Reply:
        requests = self._process.stdin
        assert requests is not None
        left = memoryview(script.content)
        while left:
            left = left[requests.write(left) :]
        head = self._read(REPLY, 1)[0]
        outs, takes = self._read(OUT, int(head["outs"])), self._read(TAKE, int(head["takes"]))
        seen = None if self._seen is None else self._read(self._seen, 1)[0]
        printed, count = self._shown()
        return Reply(
            head=head, outs=outs, takes=takes, printed=printed, printed_bytes=count, seen=seen
        )

    def _read(self, dtype: np.dtype[Any], count: int) -> Table:
        replies = self._process.stdout
        assert replies is not None
        table = np.zeros(count, dtype)
        left = memoryview(table.data).cast("B") if count else memoryview(b"")
        while left:
            got = replies.readinto(left)  # type: ignore[attr-defined]
            if not got:
                raise EOFError
            left = left[got:]
        return table

    def _shown(self) -> tuple[str, int]:
        """The beginning of what was printed since this was asked last, and how many bytes."""
        count = self._printed.seek(0, 2)
        self._printed.seek(0)
        text = self._printed.read(_MOST_SHOWN).decode(errors="replace")
        # The process writes where this file stands: it begins anew.
        self._printed.seek(0)
        self._printed.truncate()
        lines = text.splitlines()
        return lines[0] if lines else "", count


@contextmanager
def bench_of(
    executable: Path,
    *,
    emulator: Path | None = None,
    more: Sequence[str] = (),
    seen: np.dtype[Any] | None = None,
    longest_s: float = LONGEST_S,
) -> Iterator[Bench]:
    """A bench that runs, and is gone afterwards; an `emulator` is given the executable.

    `more`: arguments after it; `seen`: what comes after each reply, if anything does.
    """
    before = [] if emulator is None else [str(emulator)]
    with ExitStack() as stack:
        with before_any_end():
            bench = Bench([*before, str(executable), *more], executable, longest_s, seen)
            stack.callback(bench.close)
            stack.enter_context(taken_away_at_an_end(bench.end))
        yield bench


def line_of(executable: Path, place: int, *, tool: str = "addr2line") -> tuple[str, str]:
    """Function and line of a place in a program, such as ("look", "rx.c:41"); empty: unknown."""
    found = shutil.which(tool)
    if not place or found is None:
        return "", ""
    command = (found, "-f", "-C", "-s", "-e", str(executable), hex(place))
    try:
        done = run_program(command, _LONGEST_LOOK_S)
    except (OSError, TimeoutExpired):
        return "", ""
    lines = done.stdout.decode(errors="replace").splitlines()
    if len(lines) < 2 or lines[1].startswith("?"):
        return "", ""
    return lines[0].split("(")[0], lines[1].split(" ")[0]
