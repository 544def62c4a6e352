"""Commands ended by a signal at a random instant: `python -m tests.cli.ends.ended 500` counts.

Whatever the instant, a command ends with 128 and the signal's number, says `stopped` and no more,
leaves no process and no file behind, and an output is as it was before, or whole. The time before
Python has begun with the command is out of its hands.
"""

import json
import os
import pty
import random
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[3]
SCENARIO = """
starts = 2
duration_s = 1
radio.profile = "gfsk-1M"
receiver.boot_s = 0
air.loss = 0.1
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 6 }
failsafe.drive = { timeout_ms = 250 }
output.motor = { stream = "drive", field = "value", kind = "pwm", on_failsafe = "hold" }
"""
COMMANDS = {
    "run": "run link.toml --workers 2 --starts 8 --csv tables",
    "tune": "tune link.toml --workers 2 --points 2 --starts 1 --resume journal --emit settings.h",
    "failsafe": "failsafe link.toml --workers 2 --repeats 1 --hours 0.003 --junit junit.xml",
    "bench-test": "bench-test link.toml --workers 2 --starts 3 --minutes 0.05 --page page.html",
}
OUTPUTS = ("out.json", "page.html", "settings.h", "junit.xml")
BEFORE = b"what was there before\n"
SIGNALS = (signal.SIGINT, signal.SIGTERM)
_SHOWN, _HIDDEN = "\x1b[?25h", "\x1b[?25l"
_STEERING = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """What came of one command."""

    code: int
    screen: str
    """What it wrote on the terminal that is its standard error."""
    is_expected: bool
    """Whether the command had begun when the signal came."""
    left: tuple[str, ...]
    """What it left behind."""
    seconds: float


@contextmanager
def started(command: str, folder: Path) -> Iterator[tuple["subprocess.Popen[bytes]", int]]:
    """A command, and the terminal that it has as its standard error."""
    (folder / "link.toml").write_text(SCENARIO, encoding="utf-8")
    for name in OUTPUTS:
        (folder / name).write_bytes(BEFORE)
    terminal, its_end = pty.openpty()
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        # As a job in the background has it; a command would ignore it too.
        signal.signal(signal.SIGINT, signal.default_int_handler)
    with subprocess.Popen(
        [sys.executable, "-m", "radiosim", *COMMANDS[command].split(), "--json", "out.json"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm"},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=its_end,
        start_new_session=True,
    ) as process:
        os.close(its_end)
        try:
            yield process, terminal
        finally:
            process.kill()
            os.close(terminal)


def ended(command: str, folder: Path, number: signal.Signals, after_s: float | None) -> Ended:
    """A command ended by a signal after some seconds; None: left to end by itself."""
    begun_s = time.monotonic()
    with started(command, folder) as (process, terminal):
        is_expected = True
        if after_s is not None:
            with suppress(subprocess.TimeoutExpired):
                process.wait(after_s)
            is_expected = _is_caught(process.pid, number)
            with suppress(ProcessLookupError):
                # Ctrl-C goes to all that run in a terminal.
                send = os.killpg if number is signal.SIGINT else os.kill
                send(process.pid, number)
        screen = _all_of(terminal)
        code = process.wait()
        left = tuple(_left(process.pid, folder))
    seconds = time.monotonic() - begun_s
    return Ended(code=code, screen=screen, is_expected=is_expected, left=left, seconds=seconds)


def _is_caught(process: int, number: signal.Signals) -> bool:
    """Whether the command itself deals with a signal; true of one that has ended."""
    try:
        told = Path(f"/proc/{process}/status").read_text(encoding="utf-8")
    except OSError:
        return True
    # Python itself catches Ctrl-C from its first moment on; the other only the command does.
    mask = re.search(r"^SigCgt:\s*(\w+)$", told, re.MULTILINE)
    return mask is None or bool(int(mask[1], 16) & 1 << signal.SIGTERM - 1)


def _all_of(terminal: int) -> str:
    """What is written on a terminal until no process has it any more."""
    parts = []
    with suppress(OSError):
        while part := os.read(terminal, 65536):
            parts.append(part)
    return b"".join(parts).decode()


def _left(session: int, folder: Path) -> Iterator[str]:
    for path in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):
            state, _, _, its_session, *_ = path.read_text().rpartition(")")[2].split()
            if int(its_session) == session and state != "Z":
                yield f"process {path.parent.name}"
    wanted = {"link.toml", "journal", "tables", *OUTPUTS}
    yield from (path.name for path in folder.iterdir() if path.name not in wanted)
    tables = folder / "tables"
    if tables.is_dir():
        yield from (path.name for path in tables.iterdir() if path.suffix != ".csv")
        if not any(tables.iterdir()):
            yield "tables"


def wrong_with(found: Ended, number: signal.Signals, folder: Path) -> str:
    """What is not as it must be; nothing if all is."""
    return next(_wrongs(found, number, folder), "")


def _wrongs(found: Ended, number: signal.Signals, folder: Path) -> Iterator[str]:
    if found.left:
        yield f"left {found.left}"
    by_itself, stopped = (0, 1), 128 + number
    # Python ends by itself before it has begun with the command, and after all is done.
    if found.code not in (*by_itself, stopped, -number):
        yield f"code {found.code}: {found.screen!r}"
    text = (folder / "out.json").read_bytes()
    if text == BEFORE and (not found.is_expected or found.code == -number):
        if found.is_expected:
            yield f"{number.name} without a word"
        return
    said = _STEERING.sub("", found.screen).replace("\r\n", "\n")
    if found.code == stopped and not said.endswith("stopped\n"):
        yield f"stopped with {said!r}"
    if "Traceback" in said or "Error" in said or "ignored" in said:
        yield f"said {said!r}"
    if found.screen.rfind(_HIDDEN) > found.screen.rfind(_SHOWN):
        yield "the cursor is hidden"
    if text != BEFORE:
        json.loads(text)
    elif found.code in by_itself:
        yield "nothing was written"


def main(tries: int) -> None:
    """End each command at random instants; print what came of it."""
    random.seed(1)
    for command in COMMANDS:
        counts: Counter[str] = Counter()
        # The first may have to compile; instants are drawn from the time that the second takes.
        for _ in range(2):
            with tempfile.TemporaryDirectory() as name:
                whole = ended(command, Path(name), signal.SIGINT, None)
        print(command, f"takes {whole.seconds:.1f} s, code {whole.code}", flush=True)
        for _ in range(tries // len(COMMANDS)):
            number = random.choice(SIGNALS)
            after_s = random.uniform(0, whole.seconds)
            with tempfile.TemporaryDirectory() as name:
                found = ended(command, Path(name), number, after_s)
                wrong = wrong_with(found, number, Path(name))
            if wrong:
                print(f"  {number.name} after {after_s:.3f} s: {wrong}", flush=True)
            when = "" if found.is_expected else " before it began"
            counts[f"{number.name} {found.code}{when}{' WRONG' if wrong else ''}"] += 1
        print("  ", dict(sorted(counts.items())), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]))
