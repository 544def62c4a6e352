"""Files written whole or not at all: beside their place first, then renamed."""

import os
import secrets
import stat
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from radiosim.endings import taken_away_at_an_end


def put_all(contents: Mapping[Path, bytes]) -> None:
    """Put files in their places, each whole: all of them are written before the first is renamed.

    A link stays one, and a file that is replaced keeps its permissions and, where that may be, its
    owner. What is no plain file, such as a pipe or a device, is written to directly. Raises
    OSError, with nothing left beside the places.
    """
    beside: dict[Path, Path] = {}

    def take_away() -> None:
        for written in tuple(beside.values()):
            with suppress(OSError):
                written.unlink(missing_ok=True)

    with taken_away_at_an_end(take_away):
        try:
            _put_all(contents, beside)
        except BaseException:
            take_away()
            raise


def _put_all(contents: Mapping[Path, bytes], beside: dict[Path, Path]) -> None:
    """Put files in their places; `beside` fills with those that are written, by their places."""
    for place, content in contents.items():
        path = place.resolve()
        if path.exists() and not path.is_file() and not path.is_dir():
            path.write_bytes(content)
            continue
        # A name that nobody can have put a link under: it is drawn, and must be new.
        written = path.with_name(f".{path.name[:200]}.{secrets.token_hex(4)}")
        beside[path] = written
        _write_out(written, content, path)
    for path, written in beside.items():
        written.replace(path)


def _write_out(path: Path, content: bytes, replaced: Path) -> None:
    with path.open("xb") as stream:
        with suppress(FileNotFoundError):
            before = replaced.stat()
            with suppress(OSError, AttributeError):  # not everybody may, nor can everywhere
                os.chown(path, before.st_uid, before.st_gid)
            path.chmod(stat.S_IMODE(before.st_mode))
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())
