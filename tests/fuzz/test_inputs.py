"""Options, answers, tables, traces, journals and headers: a refusal in words, or a result."""

from collections import Counter
from pathlib import Path
from random import Random

import pytest

from tests.fuzz.inputs import JUDGES, folder_ready

SEED = 3
COUNTS = {
    "options": 25,
    "answers": 80,
    "tables": 500,
    "traces": 60,
    "journals": 80,
    "headers": 5,
}
"""Of each kind; many more by hand: `python -m tests.fuzz KIND 100_000`."""


@pytest.mark.parametrize("kind", tuple(COUNTS))
def test_no_input_ends_in_a_traceback(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if kind == "headers":
        pytest.importorskip("clang.cindex", reason="headers need libclang, the extra `c`")
    monkeypatch.chdir(tmp_path)
    folder_ready(tmp_path)
    fates = Counter(
        JUDGES[kind](Random(f"{SEED}/{kind}/{number}"), tmp_path) for number in range(COUNTS[kind])
    )

    assert fates["refused"] > 0
    assert fates.total() > fates["refused"]
