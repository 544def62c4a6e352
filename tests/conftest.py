"""How the tests run: compiled code is there before they start; examples repeat in CI."""

import builtins
import os
import sys
from collections.abc import Iterable, Iterator
from typing import Any

import pytest
from hypothesis import settings

from tests.examples import drawn

settings.register_profile("desk", deadline=None, max_examples=drawn(100))
settings.register_profile("ci", settings.get_profile("desk"), derandomize=True, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") else "desk")


@pytest.fixture(autouse=True, scope="session")
def one_way_of_adding() -> Iterator[None]:
    """`sum` of floats rounds otherwise on newer Pythons: what radiosim adds up is whole numbers,
    or goes through `math.fsum`."""
    plain = builtins.sum

    def checked(values: Iterable[Any], /, start: Any = 0) -> Any:
        found = plain(values, start)
        who = sys._getframe(1).f_globals.get("__name__", "")
        assert not (who.startswith("radiosim.") and isinstance(found, float)), (
            f"{who} adds floats with sum; math.fsum gives the same bytes on each Python"
        )
        return found

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(builtins, "sum", checked)
        yield


def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile in one process, before there are workers that would all do it at the same time."""
    is_worker = hasattr(session.config, "workerinput")
    if not is_worker and session.config.getoption("numprocesses", None):
        compile_engine()


def compile_engine() -> None:
    """Any start calls the whole loop and all folds over its rows."""
    from radiosim.scenario import load
    from radiosim.scenario.shipped import shipped_scenarios
    from radiosim.study.starts import simulate_starts

    any_shipped = load(shipped_scenarios()[0].path, ["duration_s=1"])
    simulate_starts(any_shipped, count=1, workers=1)


LONGEST = ("test_study_coverage.py", "test_ends.py", "test_coverage.py")
"""Files of tests that take minutes: at the end all but one worker would wait for them."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest first; all others stay in their order."""
    items.sort(key=lambda item: item.path.name not in LONGEST)
