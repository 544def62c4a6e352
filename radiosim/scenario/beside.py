"""Files that a scenario names: read only from its own folder, or where an absolute path says so."""

from pathlib import Path as FilePath

from radiosim.scenario.problems import shown


def path_beside(name: str, folder: FilePath | None) -> FilePath:
    """Where a file is that a scenario in this folder names; ValueError if it may not be read."""
    given = FilePath(name)
    if given.is_absolute():
        return given
    if folder is None:
        raise ValueError(f"must be an absolute path here, got {shown(name)}")
    try:
        path = (folder / given).resolve()
    except RuntimeError:
        raise ValueError(f"must be a file, got {shown(name)}, a link to itself") from None
    except (OSError, ValueError) as error:
        raise ValueError(f"cannot be read: {error}, got {shown(name)}") from None
    if not path.is_relative_to(folder.resolve()):
        raise ValueError(f"must be inside the scenario's folder, got {shown(name)}")
    return path


def text_beside(name: str, folder: FilePath | None, largest_bytes: int) -> str:
    """Text of a file that a scenario in this folder names; ValueError with what is in the way."""
    try:
        return _read(path_beside(name, folder), name, largest_bytes)
    except UnicodeDecodeError:
        raise ValueError(f"must be UTF-8 text, got {shown(name)}") from None
    except OSError as error:
        reason = error.strerror or str(error)
        raise ValueError(f"cannot be read: {reason}, got {shown(name)}") from None


def _read(path: FilePath, name: str, largest_bytes: int) -> str:
    if not path.is_file():
        raise ValueError(f"must be a file, got {shown(name)}, which is none")
    size = path.stat().st_size
    if size > largest_bytes:
        raise ValueError(f"must be at most {largest_bytes:,} bytes, got {size:,} in {shown(name)}")
    # One byte more shows a file that grew, or one that does not tell its size.
    with path.open("rb") as stream:
        raw = stream.read(largest_bytes + 1)
    if len(raw) > largest_bytes:
        raise ValueError(f"must be at most {largest_bytes:,} bytes, got more in {shown(name)}")
    return raw.decode("utf-8-sig")
