"""Whether the argument SCENARIO is a saved trace."""

from pathlib import Path

_ARCHIVE_START = b"PK\x03\x04"
"""First bytes of a saved trace, which is a zip archive."""


def is_trace(path: Path) -> bool:
    """Whether a file is a saved trace, by its content; a scenario's reader judges all else."""
    if not path.is_file():
        return False
    try:
        with path.open("rb") as stream:
            return stream.read(len(_ARCHIVE_START)) == _ARCHIVE_START
    except OSError:
        return False
