"""A study's rows on disk."""

import functools
import os
import signal
import subprocess
import sys
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.errors import OptionError
from radiosim.scenario import parse
from radiosim.study import most_workers, worker_pool
from radiosim.study.journal import JournalError, JournalWarning, Row, digest_of, open_journal
from radiosim.study.run_points import run_points
from radiosim.study.worker_pool import WorkersError
from tests.examples import examples

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


@pytest.mark.filterwarnings("ignore::radiosim.study.journal.JournalWarning")
@given(at=st.integers(0, 100_000), bit=st.integers(0, 7))
@examples(300)
def test_a_flipped_bit_is_another_file_or_a_row_that_is_worked_out_again(
    tmp_path_factory: pytest.TempPathFactory, at: int, bit: int
) -> None:
    path = tmp_path_factory.mktemp("flipped") / "j"
    before = written(path, 0, 1, 2, 3)
    whole = bytearray(before)
    whole[at % len(whole)] ^= 1 << bit
    path.write_bytes(whole)
    try:
        journal = open_journal(path, DIGEST, 10)
    except JournalError:
        assert at % len(whole) < whole.index(b"\n") + 1
        return
    assert all(row == {"x": point / 3} for point, row in journal.rows.items())
    for row in {0, 1, 2, 3} - set(journal.rows):
        journal.add(row, {"x": row / 3})
    journal.close()
    assert sorted(path.read_bytes().splitlines()) == sorted(before.splitlines())


@pytest.mark.parametrize(
    "edited",
    [
        b'"x": 5.0}',
        b'"x": "text"}',
        b"}",
        b'"x": ' + b"[" * 5000,
        b'"y": 1}',
        b'"x": 1e999}',
    ],
)
def test_a_row_that_was_edited_is_worked_out_again_and_told_once(
    tmp_path: Path, edited: bytes
) -> None:
    path = tmp_path / "j"
    whole = written(path, 0, 1, 2)
    first, changed, *others = whole.splitlines(keepends=True)
    head = changed.partition(b'"x"')[0]
    path.write_bytes(b"".join([first, head + edited + b"}\n", *others]))

    with pytest.warns(JournalWarning, match="1 row was damaged or changed, and is worked out"):
        journal = open_journal(path, DIGEST, 10)
    assert set(journal.rows) == {1, 2}
    journal.close()
    open_journal(path, DIGEST, 10).close()


def test_a_row_of_another_study_does_not_fit(tmp_path: Path) -> None:
    mine, other = tmp_path / "j", tmp_path / "k"
    written(mine, 0)
    theirs = open_journal(other, "e" * 32, 10)
    theirs.add(1, {"x": 1 / 3})
    theirs.close()
    row = other.read_bytes().splitlines(keepends=True)[1]
    mine.write_bytes(mine.read_bytes() + row)

    with pytest.warns(JournalWarning, match="1 row was damaged"):
        open_journal(mine, DIGEST, 10).close()


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


ROOT = Path(__file__).parents[3]
POINTS = tuple(range(40))


def squared(point: int) -> Row:
    return {"z": point**2, "a": [point / 7]}


def ran(**how: Any) -> tuple[Row, ...]:
    return run_points(squared, POINTS, fold=tuple, digest="d", **how)


def test_rows_come_in_order_of_the_points_on_every_executor() -> None:
    alone = ran(workers=1)

    assert [row["z"] for row in alone] == [point**2 for point in POINTS]
    assert ran(workers=2) == alone
    with ThreadPoolExecutor(3) as pool:
        assert ran(executor=pool) == alone


def test_what_is_in_the_journal_is_not_worked_out_again(tmp_path: Path) -> None:
    done: list[int] = []

    def counted(point: int) -> Row:
        done.append(point)
        if len(done) == 7:
            raise KeyboardInterrupt
        return squared(point)

    with pytest.raises(KeyboardInterrupt):
        run_points(counted, POINTS, fold=tuple, digest="d", journal=tmp_path / "j", workers=1)
    assert done == list(range(7))
    rows = run_points(counted, POINTS, fold=tuple, digest="d", journal=tmp_path / "j", workers=1)
    assert done == [*range(7), *range(6, 40)]
    assert repr(rows) == repr(ran(workers=1))


def test_progress_counts_what_was_done_before(tmp_path: Path) -> None:
    seen: list[tuple[int, int]] = []
    run_points(squared, POINTS[:5], fold=tuple, digest="d", journal=tmp_path / "j", workers=1)
    ran(workers=1, on_progress=lambda done, total: seen.append((done, total)))

    assert seen[0] == (0, 40)
    assert seen[-1] == (40, 40)
    seen.clear()
    run_points(
        squared,
        POINTS[:5],
        fold=tuple,
        digest="d",
        journal=tmp_path / "j",
        on_progress=lambda done, total: seen.append((done, total)),
    )
    assert seen == [(5, 5)]


def test_a_full_disk_loses_nothing_that_was_kept(tmp_path: Path, monkeypatch: Any) -> None:
    real, calls = os.fsync, []

    def full(number: int) -> None:
        calls.append(number)
        if len(calls) > 4:
            raise OSError(28, "No space left on device")
        real(number)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(JournalError, match=r"No space left.*--resume"):
        ran(workers=1, journal=tmp_path / "j")
    monkeypatch.undo()
    assert repr(ran(workers=1, journal=tmp_path / "j")) == repr(ran(workers=1))


AT_ITS_LARGEST = """
import resource, sys
from pathlib import Path
from radiosim.study.run_points import run_points
from tests.study.runner.test_run_points import POINTS, squared

resource.setrlimit(resource.RLIMIT_FSIZE, (400, resource.RLIM_INFINITY))
try:
    run_points(squared, POINTS, fold=tuple, digest="d", journal=Path(sys.argv[1]), workers=1)
except Exception as error:
    print(type(error).__name__, error)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no limit on the size of files")
def test_a_journal_that_cannot_grow_says_so_and_is_gone_on_with(tmp_path: Path) -> None:
    journal = tmp_path / "j"
    done = subprocess.run(
        [sys.executable, "-c", AT_ITS_LARGEST, journal],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )

    said = f"JournalError {journal}: cannot be written: File too large; what is in it stays"
    assert done.stdout.startswith(said), done.stderr
    assert journal.stat().st_size == 400
    assert repr(ran(workers=1, journal=journal)) == repr(ran(workers=1))


def dies_once(place: Path, point: int) -> Row:
    """Takes its process down with it, the first time that point 20 is worked out."""
    if point == 20 and not place.exists():
        place.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return squared(point)


def dies(point: int) -> Row:
    if point:
        os.kill(os.getpid(), signal.SIGKILL)
    return squared(point)


@pytest.mark.slow
def test_points_of_a_process_that_is_killed_are_worked_out_again(tmp_path: Path) -> None:
    work = functools.partial(dies_once, tmp_path / "died")
    rows = run_points(work, POINTS, fold=tuple, digest="d", journal=tmp_path / "j", workers=2)

    assert (tmp_path / "died").exists()
    assert repr(rows) == repr(ran(workers=1))


@pytest.mark.slow
def test_processes_that_always_die_are_given_up() -> None:
    with pytest.raises(WorkersError, match="try fewer than 2"):
        run_points(dies, POINTS, fold=tuple, digest="d", workers=2)


def test_processes_that_cannot_be_started_are_told_of(monkeypatch: Any) -> None:
    def refused(*_: Any, **__: Any) -> Any:
        raise OSError(11, "Resource temporarily unavailable")

    monkeypatch.setattr(worker_pool, "start_python", refused)
    with pytest.raises(WorkersError, match="cannot be started: Resource temporarily unavailable"):
        ran(workers=2)


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list["subprocess.Popen[bytes]"]:
    """Processes, as they are started."""
    start, found = worker_pool.start_python, []

    def recorded(*arguments: Any, **streams: Any) -> "subprocess.Popen[bytes]":
        found.append(start(*arguments, **streams))
        return found[-1]

    monkeypatch.setattr(worker_pool, "start_python", recorded)
    return found


def test_results_are_folded_one_by_one_in_the_order_of_their_points() -> None:
    done: list[int] = []

    def work(point: int) -> int:
        done.append(point)
        return point

    def fold(results: Iterable[int]) -> list[tuple[int, int]]:
        return [(result, len(done)) for result in results]

    assert run_points(work, POINTS, fold=fold, workers=1) == [(k, k + 1) for k in POINTS]


def test_a_result_of_any_kind_comes_back_as_it_is() -> None:
    assert run_points(divmod_of_7, POINTS, fold=tuple, workers=2) == tuple(map(divmod_of_7, POINTS))


def divmod_of_7(point: int) -> tuple[int, int]:
    return divmod(point, 7)


def test_processes_end_with_a_fold_that_is_stopped(
    started: list["subprocess.Popen[bytes]"],
) -> None:
    def fold(results: Iterable[int]) -> None:
        for _ in results:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run_points(divmod_of_7, POINTS, fold=fold, is_ready=True, workers=2)

    assert len(started) == 2
    assert all(process.poll() is not None for process in started)


def test_a_pool_has_processes_for_the_cores_there_are_and_no_idle_ones(monkeypatch: Any) -> None:
    monkeypatch.setattr(most_workers, "cores", lambda: 3)

    assert [most_workers.workers_for(asked, 40) for asked in (None, 1, 5000)] == [3, 1, 12]
    assert most_workers.workers_for(5000, 2) == 2


def printing(point: int) -> int:
    print("a line of the work's own")
    os.write(1, b"and one past Python\n")
    return point


def test_what_a_point_prints_does_not_stand_among_results() -> None:
    assert run_points(printing, POINTS, fold=tuple, is_ready=True, workers=2) == POINTS


def failing(point: int) -> int:
    if point == 3:
        raise OptionError("three")
    return point


def test_an_error_of_a_point_comes_here_as_it_is() -> None:
    with pytest.raises(OptionError, match=r"^three$"):
        run_points(failing, POINTS, fold=tuple, workers=2)


def test_progress_counts_points_by_their_size() -> None:
    told: list[tuple[int, int]] = []
    run_points(
        len,
        ["a", "bcd", "ef"],
        fold=tuple,
        size_of=len,
        workers=1,
        on_progress=lambda done, total: told.append((done, total)),
    )

    assert told == [(0, 6), (1, 6), (4, 6), (6, 6)]
