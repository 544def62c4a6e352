"""Exit codes, and how a command ends when something is in the way."""

import functools
import os
import sys
from collections.abc import Callable
from typing import ParamSpec

import typer

from radiosim.cli.ending import stopped
from radiosim.cli.printing import tell
from radiosim.errors import RadiosimError, short_name

DONE = 0
NOT_HELD = 1
"""A requirement did not hold or could not be judged."""
REFUSED = 2
READER_GONE = 141
"""What a shell shows for a program whose reader went away."""

Arguments = ParamSpec("Arguments")


def guarded(command: Callable[Arguments, int]) -> Callable[Arguments, None]:
    """A command that ends with its result as exit code, and in one block when it cannot go on."""

    @functools.wraps(command)
    def run(*args: Arguments.args, **kwargs: Arguments.kwargs) -> None:
        raise typer.Exit(code_of(lambda: command(*args, **kwargs)))

    return run


def code_of(command: Callable[[], int]) -> int:
    """Exit code of a command; standard error says what was in its way."""
    try:
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
    except OSError as error:
        return _refused(f"{short_name(error.filename or 'output')}: {error.strerror or error}")
    return code


def _refused(text: str) -> int:
    tell(text)
    return REFUSED
