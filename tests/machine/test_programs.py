"""Functions as machine code give what they mean in Python: random ones, and all their effects."""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import Phase, given, note, settings
from hypothesis import strategies as st

from radiosim.engine.jit import blank, dtype_of
from tests.examples import drawn
from tests.machine.meant import meant
from tests.machine.modules import loaded
from tests.machine.programs import Given, Part, programs
from tests.machine.programs import given as givens

machine = pytest.importorskip("radiosim.machine")


class Record:
    a: int
    b: int
    x: float
    ints: list[int]
    floats: list[float]
    part: Sequence[Part]


COUNTS = {"ints": 4, "floats": 4, "part": 2}


def plain_record(numbers: Given) -> Any:
    record = blank(Record, COUNTS)
    record.a, record.b, record.x = numbers.a, numbers.b, numbers.x
    record.ints, record.floats = list(numbers.ints), list(numbers.floats)
    return record


def machine_record(numbers: Given) -> Any:
    record = np.zeros(1, dtype_of(Record, COUNTS))[0]
    for name in ("a", "b", "x", "ints", "floats"):
        record[name] = getattr(numbers, name)
    return record


def told(value: Any) -> Any:
    """A value so that equal means the same to the last bit."""
    if isinstance(value, float):
        return "nan" if math.isnan(value) else value.hex()
    if isinstance(value, tuple | list):
        return [told(part) for part in value]
    return int(value)


def all_of(record: Any, is_plain: bool) -> Any:
    if is_plain:
        parts = [(part.n, float(part.x)) for part in record.part]
        floats = [float(x) for x in record.floats]
        return told([record.a, record.b, float(record.x), record.ints, floats, parts])
    parts = [(int(part["n"]), float(part["x"])) for part in record["part"]]
    lists = record["ints"].tolist(), record["floats"].tolist()
    return told([int(record["a"]), int(record["b"]), float(record["x"]), *lists, parts])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Any:
    with pytest.MonkeyPatch.context() as patch:
        made = tmp_path_factory.mktemp("programs")
        patch.setenv("XDG_CACHE_HOME", str(made))
        yield made


QUICK = (Phase.explicit, Phase.reuse, Phase.generate)
"""Sources do not shrink: each is drawn from one number."""


def compare(folder: Path, source: str, numbers: Sequence[Given]) -> None:
    note(source)
    path = folder / f"program_{abs(hash(source)):x}.py"
    compiled, in_python = machine.compiled(loaded(source, path).tried), meant(source, "tried")
    for row in numbers:
        plain, record = plain_record(row), machine_record(row)

        result = in_python(plain, *row.numbers)

        assert told(compiled(record, *row.numbers)) == told(result)
        assert all_of(record, False) == all_of(plain, True)


@given(programs, st.lists(givens, min_size=4, max_size=8))
@settings(max_examples=drawn(40), phases=QUICK)
def test_random_functions_give_what_they_mean(
    folder: Path, source: str, numbers: list[Given]
) -> None:
    compare(folder, source, numbers)


@pytest.mark.slow
@given(programs, st.lists(givens, min_size=4, max_size=8))
@settings(max_examples=400, phases=QUICK)
def test_hundreds_of_random_functions_give_what_they_mean(
    folder: Path, source: str, numbers: list[Given]
) -> None:
    compare(folder, source, numbers)
