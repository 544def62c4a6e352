"""The table of outside checks, made from the tests: `reports/checks.csv` and `checks.md`."""

import csv
import os
from collections import defaultdict
from collections.abc import Iterable
from io import StringIO
from itertools import groupby
from pathlib import Path

import pytest

from tests.reference.outside import MAKING, NUMBERS, Row, Value, written
from tests.reference.sources import SOURCES

REFERENCE = Path(__file__).parents[1] / "reference"
FIELDS = (
    "check",
    "case",
    "what",
    "source",
    "status",
    "chance",
    "unit",
    "expected",
    "low",
    "high",
    "measured",
)
COLUMNS = ("what", "source", "status", "cases", "expected", "allowed", "measured", "chance")

MOST_SHOWN = 4
"""Values of exact checks in one cell."""


class Maker:
    """Takes the rows of the checks that passed, and the names of those that did not."""

    def __init__(self) -> None:
        self.rows: list[Row] = []
        self.failed: list[str] = []

    def pytest_configure(self, config: pytest.Config) -> None:
        """As pytest starts."""
        config.stash[MAKING] = True

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """Of one file."""
        if report.failed:
            self.failed.append(report.nodeid)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Of one phase of one test."""
        if report.skipped and "elsewhere" in report.keywords:
            print(f"no row, for it cannot run here: {report.nodeid}")
        elif not report.passed:
            self.failed.append(report.nodeid)
        elif report.when == "call":
            self.rows.extend(
                Row(**row) for name, row in report.user_properties if name == "outside"
            )


def rows_of_a_run() -> list[Row]:
    """Runs every check; SystemExit naming those that did not pass."""
    maker = Maker()
    # Random examples are then the same ones every time (tests/conftest.py).
    os.environ["CI"] = "1"
    arguments = ["-q", "-n0", "-m", "", "-p", "no:cacheprovider"]
    pytest.main([str(REFERENCE), *arguments], plugins=[maker])
    if maker.failed or not maker.rows:
        raise SystemExit("not made, for these checks did not pass: " + ", ".join(maker.failed))
    return maker.rows


def as_csv(rows: Iterable[Row]) -> str:
    """One line a test."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(FIELDS)
    for row in rows:
        values = {name: getattr(row, name) for name in FIELDS}
        writer.writerow(written(values[n]) if n in NUMBERS else values[n] for n in FIELDS)
    return text.getvalue()


def as_markdown(rows: Iterable[Row]) -> str:
    """One line a check, with the case that came nearest to its limit; files apart."""
    by_check: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        by_check[row.check].append(row)
    checks = list(by_check.values())
    lines = [
        "# Outside checks",
        "",
        f"{len(checks)} checks in {sum(map(len, checks))} cases, made from `tests/reference` by",
        "`python -m tests.reports.make`: a check that did not run and pass has no row. Every run",
        "of the tests compares with the rows, which stand case by case in `checks.csv`.",
        "",
        "Of several cases the one nearest to its limit is shown, of exact ones the first few.",
        "*Seen*: read in the published text; *derived*: worked out from what was seen; *from",
        "memory*: not seen. *Chance*: of failure of one comparison, were its seed drawn afresh;",
        "seeds are fixed, so that it passes or fails for good.",
        "",
        "Sources:",
        "",
        *(f"- **{source.key}** {source.text}" for source in SOURCES),
    ]
    for file, of_file in groupby(checks, key=lambda cases: cases[0].check.split("::")[0]):
        lines += ["", f"## {_title(file)}", "", _line(COLUMNS), _line(["---"] * len(COLUMNS))]
        lines += [_line(_cells(cases)) for cases in of_file]
    return "\n".join(lines) + "\n"


def _title(file: str) -> str:
    return file.removeprefix("test_").removesuffix(".py").replace("_", " ").capitalize()


def _line(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _cells(cases: list[Row]) -> list[str]:
    row = max(cases, key=lambda case: case.nearness)
    unit = f" {row.unit}" if row.unit else ""
    is_exact = all(case.low == case.high for case in cases)
    shown = cases if is_exact else [row]
    return [
        row.what,
        row.source,
        row.status,
        str(len(cases)),
        _several(case.expected for case in shown) + unit,
        "exact" if is_exact else _allowed(row),
        "the same" if is_exact else _shown(row.measured) + unit,
        f"{row.chance:.0e}" if row.chance else "none",
    ]


def _several(values: Iterable[Value]) -> str:
    """Each value once, the first few."""
    shown = list(dict.fromkeys(_shown(value) for value in values))
    return " · ".join(shown[:MOST_SHOWN]) + (" …" if len(shown) > MOST_SHOWN else "")


def _allowed(row: Row) -> str:
    low, high, expected = row.low, row.high, row.expected
    if low == high:
        return "exact"
    if isinstance(low, str) or isinstance(high, str) or isinstance(expected, str):
        return "exact"
    below, above = expected - low, high - expected
    if abs(below - above) <= 1e-9 * max(abs(low), abs(high)):
        return f"± {above:.3g}"
    return f"{_shown(low)} to {_shown(high)}"


def _shown(value: Value) -> str:
    return value if isinstance(value, str) else f"{value:.6g}"
