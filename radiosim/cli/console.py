"""What a command prints, its exit code, and ends that may come at any instant.

Those are Ctrl-C, and output that nobody reads.

Nothing is imported here that takes time: what comes before this is loaded is out of its hands.
"""

import errno
import os
import shutil
import signal
import sys
import textwrap
import traceback
import warnings
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import TYPE_CHECKING, Any, Literal, TextIO

from radiosim.endings import end
from radiosim.errors import Notice, RadiosimError, one_line, printable, short_name
from radiosim.safety import CAUTION
from radiosim.version import VERSION

if TYPE_CHECKING:
    from rich.console import Console


WIDTH = 80
"""Columns of a report; fewer only on a narrower terminal."""
NARROWEST = 20
"""Columns below which a terminal has not told its width."""


def print_report(draw: "Callable[[Console], None]", plain_text: Callable[[int, str], str]) -> None:
    """Print what `draw` puts on a console, or without one the text of a width and an encoding."""
    if _is_plain():
        sys.stdout.write(plain_text(WIDTH, (sys.stdout.encoding or "utf-8").lower()))
        return
    from rich.console import Console

    # Without colour there is no bold or dim either: they are escape codes too.
    colours: Literal["auto"] | None = None if os.environ.get("NO_COLOR") else "auto"
    console = Console(highlight=False, markup=False, emoji=False, color_system=colours)
    console.width = columns_of_terminal() if console.is_terminal else WIDTH
    # Written in one go by ourselves: the console would end the program if the reader is gone.
    with console.capture() as report:
        draw(console)
    sys.stdout.write(report.get())


def _is_plain() -> bool:
    """Whether nobody looks on, and nobody asks for colours all the same: no console is needed."""
    asked = ("FORCE_COLOR", "TTY_COMPATIBLE")
    return not sys.stdout.isatty() and not any(map(os.environ.get, asked))


def columns_of_terminal() -> int:
    """Columns of the terminal, as far as a report uses them; COLUMNS=0 says nothing about it."""
    return max(NARROWEST, min(WIDTH, shutil.get_terminal_size().columns))


def print_caution() -> None:
    """Print the caution, below what is no report and so has none yet."""
    say(f"\n{textwrap.fill(CAUTION, WIDTH)}")


def has_letters() -> bool:
    """Whether standard output is a terminal that can show what is drawn with letters."""
    is_plain = os.environ.get("TERM", "") in ("dumb", "unknown")
    columns = shutil.get_terminal_size().columns
    return sys.stdout.isatty() and not is_plain and columns >= WIDTH - 2


def tell(text: str) -> None:
    """Print a note or a refusal on standard error, if it can be: nothing else depends on it."""
    with suppress(OSError):
        print_lines(text.split("\n"), sys.stderr)


def say(text: str) -> None:
    """Print lines on standard output as they are, but what could steer a terminal."""
    for line in text.split("\n"):
        print(printable(line))


def print_lines(lines: Iterable[str], stream: TextIO) -> None:
    """Print each line as it is, so that other programs find it whole; wrap it on a terminal.

    What could steer a terminal is shown as it is escaped.
    """
    width = columns_of_terminal() if stream.isatty() else 0
    for line in map(printable, lines):
        print(_wrapped(line, width) if 0 < width < len(line) else line, file=stream)


def _wrapped(line: str, width: int) -> str:
    indent = " " * (len(line) - len(line.lstrip()) + 4)
    return textwrap.fill(
        line,
        width,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


TRACEBACK = "--traceback"
"""Option that has the whole story of an error that nobody foresaw printed."""
DONE = 0
NOT_HELD = 1
"""A requirement did not hold or could not be judged."""
REFUSED = 2
UNFORESEEN = 70
"""What nobody foresaw; a requirement that did not hold is another code."""
OUT_OF_MEMORY = 71
READER_GONE = 141
"""What a shell shows for a program whose reader went away."""
STOPPED = 130
"""Exit code: stopped by the user."""
_BY_SIGNAL = 128
"""Added to a signal's number: what a shell shows for a program that it has ended."""
_ENDS = ("SIGINT", "SIGTERM", "SIGHUP")
"""Ctrl-C, what asks a program to end, and a terminal that is gone, where there are such."""
_LAST_WORDS = "stopped\n"
_STANDARD_OUTPUT = 1


def stopped() -> int:
    """Tell that the user stopped it, and leave the rest undisturbed; the exit code."""
    _ignore_signals()
    print(_LAST_WORDS, end="", file=sys.stderr)
    return STOPPED


def expect_ends() -> None:
    """Let Ctrl-C and other signals that end a program end this one, at whatever instant.

    What it would leave is taken away in their handler: an exception raised there is lost if it
    hits what lets none through, as what is called when an object goes does not.
    """

    def end_here(number: int, _frame: FrameType | None) -> None:
        _ignore_signals()
        end(_BY_SIGNAL + number, _LAST_WORDS)

    for number in _numbers():
        # Whoever started this may have told it to ignore Ctrl-C.
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, end_here)


def let_signals_end_it() -> None:
    """From now on nothing is left to be taken away: signals end the program at once.

    Python takes itself apart at its end, and calls no handler any more.
    """
    for number in _numbers():
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, signal.SIG_DFL)


def _ignore_signals() -> None:
    for number in _numbers():
        signal.signal(number, signal.SIG_IGN)


def _numbers() -> tuple[signal.Signals, ...]:
    return tuple(getattr(signal, name) for name in _ENDS if hasattr(signal, name))


def open_standard_streams() -> None:
    """Give a program without standard output one whose reader is gone; errors go nowhere.

    One without standard input reads that there is none.
    """
    if sys.stdin is None:
        sys.stdin = open(os.devnull, encoding="utf-8")  # noqa: SIM115, PTH123
    if sys.stdout is None:
        reader, writer = os.pipe()
        os.close(reader)
        # Else the next file that is opened would be standard output.
        if writer != _STANDARD_OUTPUT:
            os.dup2(writer, _STANDARD_OUTPUT)
            os.close(writer)
        sys.stdout = os.fdopen(_STANDARD_OUTPUT, "w", encoding="utf-8")
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123
    for stream in (sys.stdout, sys.stderr):
        # A title that the terminal's encoding lacks must not end the run.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def code_of(command: Callable[[], int]) -> int:
    """Exit code of a command; standard error says what was in its way."""
    try:
        with _notices_told():
            code = command()
        sys.stdout.flush()
    except RadiosimError as error:
        return _refused(str(error))
    except KeyboardInterrupt:
        return stopped()
    except BrokenPipeError:
        # Nobody reads on: whatever is still buffered must not be written when Python ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return READER_GONE
    except Exception as error:
        return failed(error)
    return code


@contextmanager
def _notices_told() -> Iterator[None]:
    """Tell what warnings of ours say as all else; those and logs of others are not for a user."""
    import logging

    def show(message: Warning | str, kind: type[Warning], *_: Any, **__: Any) -> None:
        if issubclass(kind, Notice):
            tell(one_line(str(message)))

    last_resort = logging.lastResort
    logging.lastResort = logging.NullHandler()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("always", Notice)
            warnings.showwarning = show  # type: ignore[assignment]
            yield
    finally:
        logging.lastResort = last_resort


def failed(error: Exception) -> int:
    """Tell of the machine's refusals and of mistakes of ours; the exit code."""
    if _is_want_of_memory(error):
        tell("out of memory: ask for less at a time, such as shorter starts or fewer --workers")
        return OUT_OF_MEMORY
    if isinstance(error, OSError):
        return _refused(f"{short_name(error.filename or 'output')}: {error.strerror or error}")
    return unforeseen(error)


_WANT_OF_MEMORY = (
    os.strerror(errno.ENOMEM),
    "can't start new thread",
    "failed to map segment",
    "error return without exception set",
    "returned NULL without setting an exception",
)
"""What the loader of libraries and the interpreter say where there is no memory left."""


def _is_want_of_memory(error: BaseException) -> bool:
    """Whether an error, or what brought it about, came of too little memory."""
    causes: list[BaseException] = []
    cause: BaseException | None = error
    while cause is not None and cause not in causes:
        causes.append(cause)
        cause = cause.__cause__ or cause.__context__
    return any(
        isinstance(one, MemoryError)
        or getattr(one, "errno", None) == errno.ENOMEM
        or (
            isinstance(one, ImportError | RuntimeError | SystemError)
            and any(words in str(one) for words in _WANT_OF_MEMORY)
        )
        for one in causes
    )


def unforeseen(error: Exception) -> int:
    """Tell of an error that is a mistake of the program, in one line; the exit code."""
    if TRACEBACK in sys.argv:
        traceback.print_exception(error)
    text = f"{type(error).__name__}: {error}".rstrip(": ")
    tell(
        one_line(f"not foreseen: {text}") + f"\nThis is a mistake of radiosim {VERSION}: please "
        f"report it, with the command and this text ({TRACEBACK} after radiosim tells more)"
    )
    return UNFORESEEN


def _refused(text: str) -> int:
    # What was typed is told with it, however long that may be.
    tell("\n".join(map(one_line, text.split("\n"))))
    return REFUSED
