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


def check_targets(
    json: str | None,
    csv: Path | None,
    parquet: Path | None = None,
    page: Path | None = None,
    scene: str = "",
) -> None:
    """RadiosimError, before anything is simulated, if a target cannot be written."""
    from radiosim.cli.page import check_page
    from radiosim.report.files import check_file

    file = None if json in (None, STANDARD_OUTPUT) else Path(str(json))
    if file is not None:
        check_file(file)
    check_page(page, scene, others={"--json": file})
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
