"""Results in files, whole or not at all; what is in the way is said in one line."""

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from radiosim.endings import taken_away_at_an_end
from radiosim.errors import RadiosimError, one_line, short_name
from radiosim.whole_files import put_all


class ReportError(RadiosimError):
    """A result cannot be written where it should go."""


def _refused(path: Path, text: str) -> ReportError:
    return ReportError(one_line(f"{short_name(path)}: {text}"))


def check_file(path: Path) -> None:
    """ReportError if a file could not be written here; nothing is written."""
    if path.is_dir():
        raise _refused(path, "must be a file, got a folder")
    if not path.parent.is_dir():
        raise _refused(path, f"must be in a folder that exists, got {path.parent} (make it)")
    place = path if path.exists() else path.parent
    if not os.access(place, os.W_OK):
        raise _refused(path, "must be writable, got one that is not")


def check_folder(path: Path) -> None:
    """ReportError if a folder of tables could not be written here; nothing is written."""
    if path.exists() and not path.is_dir():
        raise _refused(path, "must be a folder, got a file")
    check_file(path / "table" if path.is_dir() else path)


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file so that its name never stands for half of it; text as UTF-8.

    What is no plain file, such as a pipe or a device, is written to directly. Raises ReportError.
    """
    check_file(path)
    with _refusals(path):
        put_all({path: _raw(content)})


def check_new(path: Path) -> None:
    """ReportError if a file could not be written here, or there is one already."""
    if path.exists():
        raise _refused(path, "must be a new file, got one that exists (it is left as it is)")
    check_file(path)


def write_new(path: Path, content: str | bytes) -> None:
    """As `write_whole`, but ReportError if there is a file already."""
    check_new(path)
    write_whole(path, content)


def write_folder(path: Path, contents: Mapping[str, str | bytes]) -> None:
    """Write several files of one folder, making it if needed; its other files stay untouched.

    Every file is written beside its place before the first is renamed. Raises ReportError.
    """
    check_folder(path)
    is_new = not path.exists()

    def take_away() -> None:
        if is_new:
            with suppress(OSError):  # there are files in it
                path.rmdir()

    with _refusals(path), taken_away_at_an_end(take_away):
        path.mkdir(exist_ok=True)
        try:
            put_all({path / name: _raw(content) for name, content in contents.items()})
        except BaseException:
            take_away()
            raise


def _raw(content: str | bytes) -> bytes:
    return content.encode() if isinstance(content, str) else content


@contextmanager
def _refusals(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise _refused(path, f"cannot be written: {error.strerror or error}") from None
