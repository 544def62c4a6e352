"""Where results go: tables as CSV or Parquet; for a study also JSON, a page, the terminal."""

import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rich.console import Console

STANDARD_OUTPUT = "-"


def check_tables(csv: Path | None, parquet: Path | None) -> None:
    """RadiosimError, before anything is simulated, if a folder of tables cannot be written."""
    from radiosim.report.as_parquet import check_parquet
    from radiosim.report.files import check_folder

    if csv is not None:
        check_folder(csv)
    if parquet is not None:
        check_parquet()
        check_folder(parquet)


def write_tables(
    csv: Path | None, parquet: Path | None, tables: Callable[[], Mapping[str, str]]
) -> None:
    """Write tables, made as CSV texts, where they were asked for."""
    from radiosim.report.as_parquet import as_parquet
    from radiosim.report.files import write_folder

    if csv is not None:
        write_folder(csv, tables())
    if parquet is not None:
        write_folder(parquet, as_parquet(tables()))


def file_of(json: str | None) -> Path | None:
    """The file that JSON goes to; None for standard output, or where none was asked for."""
    return None if json is None or json == STANDARD_OUTPUT else Path(json)


def check_files(files: Mapping[str, Path | None], *read: str) -> None:
    """RadiosimError, before anything is simulated, if a file cannot be written.

    By option; None where it was not given. Nor may a file be one of those that are `read`, such as
    the scene, or that of another option.
    """
    from radiosim.cli.source import OptionError
    from radiosim.report.files import check_file

    asked = {option: path for option, path in files.items() if path is not None}
    options: dict[Path, str] = {}
    for option, path in asked.items():
        check_file(path)
        for file in read:
            if path.exists() and Path(file).exists() and path.samefile(file):
                raise OptionError(f"{option}: must not be {_what(file)} itself, got {path}")
        other = options.setdefault(path.resolve(), option)
        if other != option:
            raise OptionError(f"{other}, {option}: must be different files")


def _what(read: str) -> str:
    return "the header" if Path(read).suffix in (".h", ".hpp") else "the scene"


def check_targets(
    json: str | None,
    csv: Path | None,
    parquet: Path | None = None,
    *,
    scene: str,
    files: Mapping[str, Path | None] | None = None,
) -> None:
    """RadiosimError, before anything is simulated, if a target cannot be written.

    `files`: other files that are written, or gone on with, by option.
    """
    check_files({"--json": file_of(json), **(files or {})}, scene)
    check_tables(csv, parquet)


def write_out(
    json: str | None,
    csv: Path | None,
    document: Callable[[], Any],
    tables: Callable[[], dict[str, str]],
    draw: "Callable[[Console], None]",
    *,
    parquet: Path | None = None,
) -> None:
    """Write the files that were asked for, then print; JSON on standard output stands alone."""
    from radiosim.cli.printing import print_report
    from radiosim.report.files import write_whole
    from radiosim.report.layouts.as_json import text_of

    write_tables(csv, parquet, tables)
    if json == STANDARD_OUTPUT:
        sys.stdout.write(text_of(document()))
        return
    if json is not None:
        write_whole(Path(json), text_of(document()))
    print_report(draw)
