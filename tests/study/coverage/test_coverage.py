"""What studies claim holds as often as they say, in many small studies.

Two hundred of each kind: `python -m tests.study.coverage`.
"""

from itertools import product

import pytest

from tests.study.coverage.claims import STUDIES
from tests.study.coverage.scenarios import SCENARIOS
from tests.study.coverage.tables import Row, rows_of_kind

MANY, FEW = 20, 5
DEAR = ("rare", "range")
LONG_RUN = 500
CHANCE = 1e-5
"""Of a failure, were the seeds drawn afresh: one of two hundred thousand for each row."""


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "name"),
    # Of independent losses closed forms tell more: tests/reference/test_rare_runs.py.
    [pair for pair in product(STUDIES, SCENARIOS) if pair != ("rare", "independent")],
)
def test_claims_hold_as_often_as_is_told(kind: str, name: str) -> None:
    rows = list(rows_of_kind(kind, name, FEW if kind in DEAR else MANY, LONG_RUN))

    assert rows
    assert [row for row in rows if not row.is_enough(CHANCE)] == []


def test_a_row_of_too_few_is_told_from_one_of_enough() -> None:
    """Of 40 that hold 19 times of 20, 30 come about once in a hundred thousand."""
    few, enough = (Row(scenario="s", claim="c", told=0.95, held=held, made=40) for held in (25, 36))

    assert not few.is_enough(CHANCE)
    assert enough.is_enough(CHANCE)
