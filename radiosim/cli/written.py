"""Where a study's results go: JSON, CSV, the terminal."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rich.console import Console

STANDARD_OUTPUT = "-"


def check_targets(json: str | None, csv: Path | None) -> None:
    """RadiosimError, before anything is simulated, if a target cannot be written."""
    from radiosim.report.files import check_file, check_folder

    if json not in (None, STANDARD_OUTPUT):
        check_file(Path(str(json)))
    if csv is not None:
        check_folder(csv)


def write_out(
    json: str | None,
    csv: Path | None,
    document: Callable[[], Any],
    tables: Callable[[], dict[str, str]],
    draw: "Callable[[Console], None]",
) -> None:
    """Write the files that were asked for, then print; JSON on standard output stands alone."""
    from radiosim.cli.printing import print_report
    from radiosim.report.files import write_folder, write_whole
    from radiosim.report.layouts.as_json import text_of

    if csv is not None:
        write_folder(csv, tables())
    if json == STANDARD_OUTPUT:
        sys.stdout.write(text_of(document()))
        return
    if json is not None:
        write_whole(Path(json), text_of(document()))
    print_report(draw)
