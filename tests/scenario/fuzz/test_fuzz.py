"""Whatever a scenario file holds: a refusal in well-formed lines, or a run."""

from pathlib import Path

import pytest

from radiosim.scenario import load
from tests.examples import drawn
from tests.scenario.fuzz import judge
from tests.scenario.fuzz.corpus import corpus
from tests.scenario.fuzz.judge import folder_ready
from tests.scenario.fuzz.search import search
from tests.scenario.fuzz.shrink import shrunk

MUTANTS, SEED = 1_000, 2


def test_no_mutant_ends_in_a_traceback_or_in_lines_that_help_nobody(tmp_path: Path) -> None:
    folder_ready(tmp_path)

    seen = search(SEED, range(drawn(MUTANTS)), tmp_path)

    assert not seen.failures, f"seed {SEED}, " + "\n".join(map(str, seen.failures.values()))
    # All ways lead through: a change of the mutants must not leave one untried.
    assert (
        min(seen.fates[fate] for fate in ("no text", "refused", "sound", "simulated", "told")) > 0
    )


def test_what_mutants_begin_with_is_sound_where_it_is_meant_to_be(tmp_path: Path) -> None:
    pytest.importorskip("clang.cindex", reason="headers need libclang, the extra `c`")
    folder_ready(tmp_path)

    for text in corpus().sound:
        (tmp_path / "scenario.toml").write_bytes(text)
        assert load(tmp_path / "scenario.toml").transmitter


def test_a_traceback_is_told_with_the_least_scenario_that_shows_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(path: Path, overrides: tuple[str, ...]) -> None:
        if b"profile" in path.read_bytes():
            raise ZeroDivisionError("no such luck")

    monkeypatch.setattr(judge, "load", broken)

    (failure,) = search(SEED, range(50), tmp_path).failures.values()

    assert failure.least == judge.Mutant(text=b"profile")
    assert "ZeroDivisionError: no such luck" in str(failure)


def test_a_text_is_shrunk_to_the_bytes_that_matter() -> None:
    text = b"one\ntwo = 2\nthree\n" * 9 + b"four\n"

    assert shrunk(text, lambda left: b"w" in left and b"f" in left) == b"wf"
