"""Where results go: judged before anything is simulated, never over what is read; then written."""

import sys
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from radiosim.cli.console import print_report
from radiosim.cli.options import Files, JsonFile, PageAndFiles
from radiosim.errors import OptionError, RadiosimError

if TYPE_CHECKING:
    from radiosim.results.document import Report

STANDARD_OUTPUT = "-"


def check_targets(
    json: str | None = None,
    csv: Path | None = None,
    parquet: Path | None = None,
    *,
    files: Mapping[str, Path | None] | None = None,
    scenarios: Iterable[str] = (),
    layouts: Iterable[str] = (),
    set_: Iterable[str] | None = None,
) -> None:
    """RadiosimError if a target cannot be written, is read, or is that of another option.

    `files`: other files that are written, or gone on with, by option; `scenarios` and `layouts`:
    what is read, as the user named it, with the overrides of `set_`."""
    written = {"--json": _file_of(json), **(files or {})}
    if not any((*written.values(), csv, parquet)):
        return
    read = _files_read(scenarios, layouts, tuple(set_ or ()))
    _check_files(written, read)
    if csv is not None:
        _check_folder("--csv", csv, read)
    if parquet is not None:
        from radiosim.results.data import check_parquet

        check_parquet()
        _check_folder("--parquet", parquet, read)


def _file_of(json: str | None) -> Path | None:
    return None if json is None or json == STANDARD_OUTPUT else Path(json)


def _files_read(
    scenarios: Iterable[str], layouts: Iterable[str], overrides: tuple[str, ...]
) -> dict[Path, str]:
    """Every file that is read, with what it is; what is not there is for its reader to refuse."""
    from radiosim.scenario.named_layout import files_of_layout
    from radiosim.scenario.shipped import scenario_path

    found: dict[Path, str] = {}
    asked: list[Callable[[], tuple[Path, ...]]]
    asked = [partial(_files_of_scenario, source, overrides) for source in scenarios]
    asked += [partial(files_of_layout, layout, scenario_path) for layout in layouts]
    for files in asked:
        try:
            first, *others = files()
        except RadiosimError:
            continue
        kind = "header" if first.suffix in (".h", ".hpp") else "scenario"
        found[first] = f"the {kind} itself"
        found |= dict.fromkeys(others, f"a file that the {kind} reads")
    return found


def _files_of_scenario(source: str, overrides: tuple[str, ...]) -> tuple[Path, ...]:
    from radiosim.scenario.named_layout import files_of_scenario
    from radiosim.scenario.shipped import scenario_path

    return files_of_scenario(scenario_path(source), overrides)


def _check_files(files: Mapping[str, Path | None], read: Mapping[Path, str]) -> None:
    from radiosim.report.files import check_file

    options: dict[Path, str] = {}
    for option, path in files.items():
        if path is None:
            continue
        _refuse_standard_output(option, path)
        check_file(path)
        for file, what in read.items():
            if _is_same(path, file):
                raise OptionError(f"{option}: must not be {what}, got {path}")
        other = options.setdefault(path.resolve(), option)
        if other != option:
            raise OptionError(f"{other}, {option}: must be different files")


def _refuse_standard_output(option: str, path: Path) -> None:
    if str(path) == STANDARD_OUTPUT:
        raise OptionError(
            f"{option}: must be a name, got - (it is standard output for --json only)"
        )


def _is_same(one: Path, other: Path) -> bool:
    """Whether both are there, and are one."""
    try:
        return one.samefile(other)
    except OSError:
        return False


def _check_folder(option: str, folder: Path, read: Mapping[Path, str]) -> None:
    from radiosim.report.files import check_folder

    _refuse_standard_output(option, folder)
    check_folder(folder)
    for file, what in read.items():
        is_table = file.suffix == f".{option.removeprefix('--')}"
        if is_table and _is_same(folder, file.parent):
            raise OptionError(
                f"{option}: must be another folder than that of {what} ({file.name}), got {folder}"
            )


def write_report(report: "Report", options: Files, *, is_more: bool = False) -> None:
    """Write a report wherever it was asked for, then print it.

    JSON on standard output stands alone. Raises ReportError.
    """
    from radiosim.report.files import write_folder, write_whole
    from radiosim.results import data, terminal
    from radiosim.results import data as result_data

    if isinstance(options, PageAndFiles) and options.page is not None:
        from radiosim.results.html import page_html

        write_whole(options.page, page_html(report))
    if options.csv is not None:
        write_folder(options.csv, result_data.csv_files(report))
    if options.parquet is not None:
        write_folder(options.parquet, result_data.parquet_files(report))
    if not write_json(options, lambda: data.json_text(report)):
        print_report(
            lambda console: terminal.print_report(report, console, is_more=is_more),
            lambda width, encoding: terminal.plain_text(
                report, width, encoding=encoding, is_more=is_more
            ),
        )


def write_json(options: JsonFile, text: Callable[[], str]) -> bool:
    """Write the JSON if it was asked for; whether it is all that goes to standard output."""
    from radiosim.report.files import write_whole

    if options.json == STANDARD_OUTPUT:
        sys.stdout.write(text())
        return True
    if options.json is not None:
        write_whole(Path(options.json), text())
    return False
