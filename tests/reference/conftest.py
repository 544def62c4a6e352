"""What an outside check compared is a row of `reports/checks.csv`."""

from collections.abc import Generator
from dataclasses import asdict

import pytest

from tests.reference.outside import MAKING, check, compare_with_stored, row_of


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None, None, None]:
    check.forget()
    yield
    if item.get_closest_marker("outside") is None:
        return
    row = row_of(item)
    item.user_properties.append(("outside", asdict(row)))
    if not item.config.stash.get(MAKING, False):
        compare_with_stored(row, is_elsewhere=item.get_closest_marker("elsewhere") is not None)
