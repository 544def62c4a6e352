"""Outside checks: tests that say what they compare with, and keep what they compared.

    @outside("bits of a frame", source=PS.at("7.3"), status=SEEN)
    def test_...() -> None:
        check.near(measured, expected, within=1)

The rows of `reports/checks.md` are made from what the tests compared as they ran, and every run
compares with the stored row (see `conftest.py`): what is not run cannot stand there.
"""

import csv
import functools
from dataclasses import asdict, dataclass
from io import StringIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

CHECKS = Path(__file__).parents[2] / "reports" / "checks.csv"
MAKE = "python -m tests.reports.make"
MAKING = pytest.StashKey[bool]()
"""Set while the table is made: nothing is compared with what is stored then."""

SEEN = "seen"
"""Read in the published text."""
RESTATED = "restated"
"""Read as restated by others."""
MEMORY = "from memory"
"""Not seen."""
DERIVED = "derived"
"""Worked out from what was seen."""
DERIVED_FROM_MEMORY = "derived, from memory"
PRACTICE = "common practice"
"""No source."""
SECOND = "second opinion"
"""Another program."""
STATUSES = (SEEN, RESTATED, MEMORY, DERIVED, DERIVED_FROM_MEMORY, PRACTICE, SECOND)

CHANCE_OF_FAILURE = 1e-6
"""Of one random comparison, were its seed drawn afresh. Seeds are fixed: it passes or fails for
good."""
FIVE_ERRORS = 5.7e-7
"""Chance that a normal variable is further than five standard errors from its mean."""

Value = float | str


def outside(
    what: str, *, source: str, status: str, chance: float = 0.0, unit: str = ""
) -> pytest.MarkDecorator:
    """Marks a test as an outside check.

    `source`: short name and place, several separated by "; "; `chance`: of failure of one of its
    comparisons, were the seed drawn afresh (0: no chance in it); `unit`: of its numbers.
    """
    assert status in STATUSES, status
    return pytest.mark.outside(what=what, source=source, status=status, chance=chance, unit=unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A measured value beside what it must be."""

    measured: Value
    expected: Value
    low: Value
    high: Value

    @property
    def nearness(self) -> float:
        """How much of the room between expected and limit it takes, 0 to 1; 0 if exact."""
        measured, expected, low, high = self.measured, self.expected, self.low, self.high
        if isinstance(measured, str) or isinstance(expected, str) or low == high:
            return 0.0
        assert not isinstance(low, str)
        assert not isinstance(high, str)
        room = high - expected if measured > expected else expected - low
        return abs(measured - expected) / room if room else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Row(Comparison):
    """One test of a check, as the table has it."""

    check: str
    """File and name of the test."""
    case: str
    """Its parameters."""
    what: str
    source: str
    status: str
    chance: float
    unit: str


class Check:
    """Compares, and keeps the comparison that came nearest to its limit."""

    def __init__(self) -> None:
        self.kept: Comparison | None = None

    def forget(self) -> None:
        """Starts afresh, for another test."""
        self.kept = None

    def same(self, measured: object, expected: object) -> None:
        """Equal, and short enough to be printed."""
        assert measured == expected
        ours, theirs = _value(measured), _value(expected)
        self._keep(Comparison(measured=ours, expected=theirs, low=theirs, high=theirs))

    def agree(self, ours: object, theirs: object, *, rel: float = 0.0) -> None:
        """Equal, or alike to a share of it, and too long or too changing to be printed."""
        assert ours == (pytest.approx(theirs, rel=rel, abs=1e-12) if rel else theirs)
        word = f"equal to {rel:g}" if rel else "equal"
        self._keep(Comparison(measured=word, expected=word, low=word, high=word))

    def near(self, measured: float, expected: float, *, within: float) -> None:
        """No further than `within` apart."""
        self.between(measured, expected - within, expected + within, expected=expected)

    def between(
        self, measured: float, low: float, high: float, *, expected: float | None = None
    ) -> None:
        """Inside a closed interval; expected in its middle unless said otherwise."""
        assert low <= measured <= high
        middle = (low + high) / 2 if expected is None else expected
        self._keep(
            Comparison(
                measured=float(measured), expected=float(middle), low=float(low), high=float(high)
            )
        )

    def share(self, count: int, trials: int, probability: float) -> None:
        """A count of independent trials is in neither tail of the binomial distribution."""
        tail, of_chance = CHANCE_OF_FAILURE / 2, stats.binom(trials, probability)
        low, high = of_chance.ppf(tail) / trials, of_chance.isf(tail) / trials
        self.between(count / trials, low, high, expected=probability)

    def events(self, count: int, mean: float) -> None:
        """A count of rare events is in neither tail of the Poisson distribution."""
        tail, of_chance = CHANCE_OF_FAILURE / 2, stats.poisson(mean)
        self.between(count, of_chance.ppf(tail), of_chance.isf(tail), expected=mean)

    def mean(self, values: Any, expected: float) -> None:
        """The mean of independent values is within five of its standard errors."""
        error = float(np.std(values, ddof=1)) / len(values) ** 0.5
        self.near(float(np.mean(values)), expected, within=5 * error + 1e-12 * (1 + abs(expected)))

    def _keep(self, comparison: Comparison) -> None:
        if self.kept is None or comparison.nearness > self.kept.nearness:
            self.kept = comparison


check = Check()
"""Of the test that runs."""


def _value(value: Any) -> Value:
    """As the table shows it: a number, or words."""
    if isinstance(value, bool) or not isinstance(value, int | float | np.number):
        return str(value)
    return float(value)


def row_of(node: pytest.Item) -> Row:
    """The row of a test that passed; fails if it compared nothing."""
    mark, kept = node.get_closest_marker("outside"), check.kept
    assert mark is not None, "it has no @outside(...)"
    assert kept is not None, "an outside check needs a comparison with `check`"
    name, _, case = node.name.partition("[")
    return Row(
        check=f"{node.path.name}::{name}",
        case=case.removesuffix("]"),
        **mark.kwargs,
        **asdict(kept),
    )


def compare_with_stored(row: Row, *, is_elsewhere: bool) -> None:
    """Fails unless the table has this row; numbers alike to 9 digits.

    `is_elsewhere`: it needs what not every machine has, where the table is made included.
    """
    stored = stored_rows().get((row.check, row.case))
    if stored is None and is_elsewhere:
        return
    assert stored is not None, f"not in reports/checks.csv: run {MAKE}"
    fresh = asdict(row)
    for name, value in asdict(stored).items():
        assert _alike(value, fresh[name]), (
            f"{name} is {fresh[name]!r}, reports/checks.csv says {value!r}: "
            f"if that is meant, run {MAKE}"
        )


def _alike(stored: Value, fresh: Value) -> bool:
    if isinstance(stored, str) or isinstance(fresh, str):
        return stored == fresh
    return fresh == pytest.approx(stored, rel=1e-9, abs=1e-12)


NUMBERS = ("chance", "expected", "low", "high", "measured")


@functools.cache
def stored_rows() -> dict[tuple[str, str], Row]:
    """The rows of `reports/checks.csv` by check and case."""
    if not CHECKS.exists():
        return {}
    rows = rows_in(CHECKS.read_text(encoding="utf-8"))
    return {(row.check, row.case): row for row in rows}


def rows_in(text: str) -> list[Row]:
    """The rows of a table in CSV."""
    return [_read(row) for row in csv.DictReader(StringIO(text, newline=""))]


def _read(texts: dict[str, str]) -> Row:
    """Words stand in quotes, numbers do not."""
    values: dict[str, Any] = dict(texts)
    for name in NUMBERS:
        text = texts[name]
        values[name] = text[1:-1] if text[:1] == "'" else float(text)
    return Row(**values)


def written(value: Value) -> str:
    """A value as the CSV file holds it: without the digits in which machines differ."""
    return f"{value:.12g}" if isinstance(value, float) else f"'{value}'"
