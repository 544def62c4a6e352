"""A study's rows on disk."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.scenario import parse
from radiosim.study.runner.journal import JournalError, digest_of, open_journal

DIGEST = "d" * 32
SCENARIO = 'radio.profile = "gfsk-1M"\ntransmitter.a = { period_ms = %d, payload_bytes = 2 }\n'


def written(path: Path, *rows: int) -> bytes:
    journal = open_journal(path, DIGEST, 10)
    for row in rows:
        journal.add(row, {"x": row / 3})
    journal.close()
    return path.read_bytes()


def test_what_was_kept_is_there_when_it_is_opened_again(tmp_path: Path) -> None:
    written(tmp_path / "j", 3, 1)

    again = open_journal(tmp_path / "j", DIGEST, 10)
    assert again.rows == {3: {"x": 1.0}, 1: {"x": 1 / 3}}
    again.add(2, {"x": 0.0})
    again.close()
    last = open_journal(tmp_path / "j", DIGEST, 10)
    last.close()
    assert set(last.rows) == {1, 2, 3}


@given(st.integers(0, 10_000))
def test_a_journal_that_was_cut_off_anywhere_goes_on_from_its_last_whole_line(
    tmp_path_factory: pytest.TempPathFactory, cut: int
) -> None:
    path = tmp_path_factory.mktemp("cut") / "j"
    whole = written(path, 0, 1, 2, 3)
    at = cut % (len(whole) + 1)
    path.write_bytes(whole[:at])

    journal = open_journal(path, DIGEST, 10)
    kept = len(journal.rows)
    assert kept == max(0, whole[:at].count(b"\n") - 1)
    for row in range(kept, 4):
        journal.add(row, {"x": row / 3})
    journal.close()
    assert path.read_bytes() == whole


@pytest.mark.parametrize(
    "text", ["{}\n", "hello\n", "[1]\n", "\x00\n", "{}", '{"format": 1', "hello"]
)
def test_a_file_that_is_no_journal_is_refused_and_left_alone(tmp_path: Path, text: str) -> None:
    path = tmp_path / "j"
    path.write_text(text, encoding="utf-8")

    with pytest.raises(JournalError, match="must be a journal of a study"):
        open_journal(path, DIGEST, 10)
    assert path.read_text(encoding="utf-8") == text


def test_another_studys_journal_is_refused(tmp_path: Path) -> None:
    written(tmp_path / "j", 1)

    with pytest.raises(JournalError, match="another's"):
        open_journal(tmp_path / "j", "e" * 32, 10)


def test_a_folder_and_a_place_that_is_not_there_are_refused(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="must be a journal"):
        open_journal(tmp_path, DIGEST, 10)
    with pytest.raises(JournalError, match="must be writable"):
        open_journal(tmp_path / "none" / "j", DIGEST, 10)


def test_a_digest_changes_with_scenario_and_settings() -> None:
    one, other = parse(SCENARIO % 20), parse(SCENARIO % 21)

    digests = {digest_of("tune", one, [1]), digest_of("tune", other, [1])}
    digests |= {digest_of("tune", one, [2]), digest_of("range", one, [1])}
    assert len(digests) == 4
    assert digest_of("tune", one, [1]) == digest_of("tune", parse(SCENARIO % 20), [1])
