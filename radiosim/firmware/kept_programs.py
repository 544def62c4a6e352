"""Programs that were compiled before, kept in the user's cache by a digest of what went into them.

Without such a place, or where it is full or cannot be written to, all is compiled anew; what is
kept there and is not whole any more is, too.
"""

import hashlib
import os
import shutil
from contextlib import suppress
from pathlib import Path

from radiosim.passing_folder import passing_folder

_MOST_KEPT = 24
"""Programs that are kept; those used least recently go first."""
_SEAL = "seal"


def kept(name: str) -> Path | None:
    """The folder that is kept under a name; None: none, or it is damaged."""
    folder = cache_folder()
    if folder is None or not _is_whole(folder / name):
        return None
    with suppress(OSError):
        os.utime(folder / name)
    return folder / name


def keep(made: Path, name: str) -> Path:
    """Keep what was made, whole or not at all; where it is now."""
    folder = cache_folder()
    if folder is None:
        return made
    place = folder / name
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with passing_folder(".made.", folder) as beside:
            copy = beside / "all"
            shutil.copytree(made, copy)
            (copy / _SEAL).write_text(_seal_of(copy))
            shutil.rmtree(place, ignore_errors=True)
            copy.rename(place)
        _drop_oldest(folder)
    except OSError:
        # Another run may have kept the same meanwhile.
        return place if _is_whole(place) else made
    return place


def cache_folder() -> Path | None:
    """Where built programs are kept; None for a user without a home."""
    try:
        cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    except RuntimeError:
        return None
    return cache / "radiosim" / "firmware"


def _drop_oldest(folder: Path) -> None:
    places = sorted(folder.glob("[!.]*"), key=lambda path: path.stat().st_mtime)
    for old in places[:-_MOST_KEPT]:
        shutil.rmtree(old, ignore_errors=True)


def _is_whole(place: Path) -> bool:
    with suppress(OSError, ValueError):
        return (place / _SEAL).read_text() == _seal_of(place)
    return False


def _seal_of(place: Path) -> str:
    digest = hashlib.sha256()
    for path in sorted(place.iterdir()):
        if path.name != _SEAL:
            content = path.read_bytes()
            digest.update(f"{path.name} {len(content)} {os.access(path, os.X_OK)}\n".encode())
            digest.update(content)
    return digest.hexdigest()
