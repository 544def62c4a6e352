"""Where results go: CSV or Parquet, JSON, a page, the terminal."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from radiosim.cli.targets import STANDARD_OUTPUT

if TYPE_CHECKING:
    from radiosim.results.document import Report


def write_report(
    report: "Report",
    *,
    json: str | None = None,
    csv: Path | None = None,
    parquet: Path | None = None,
    page: Path | None = None,
    is_more: bool = False,
) -> None:
    """Write a report wherever it was asked for, then print it.

    JSON on standard output stands alone. Raises ReportError.
    """
    from radiosim.cli.printing import print_report
    from radiosim.report.files import write_folder, write_whole
    from radiosim.results import data, tables, terminal

    if page is not None:
        from radiosim.results.html import page_html

        write_whole(page, page_html(report))
    if csv is not None:
        write_folder(csv, tables.csv_files(report))
    if parquet is not None:
        write_folder(parquet, tables.parquet_files(report))
    if json == STANDARD_OUTPUT:
        sys.stdout.write(data.json_text(report))
        return
    if json is not None:
        write_whole(Path(json), data.json_text(report))
    print_report(lambda console: terminal.print_report(report, console, is_more=is_more))
