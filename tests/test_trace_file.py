"""Saved traces."""

import dataclasses
import json
import os
import re
import threading
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from radiosim import trace_file
from radiosim.engine.simulate import simulate
from radiosim.errors import TraceError
from radiosim.trace import DTYPES, Trace
from radiosim.trace_file import FORMAT, is_trace, load, save
from tests.traces import scenario_with, trace_of


def parts(path: Path) -> dict[str, Any]:
    with np.load(path) as arrays:
        return dict(arrays)


def same(a: Trace, b: Trace) -> bool:
    tables = all(np.array_equal(getattr(a, name), getattr(b, name)) for name in DTYPES)
    heads = all(
        getattr(a, name) == getattr(b, name)
        for name in ("scenario", "seed", "start", "duration_ns", "engine", "version")
    )
    return tables and heads


def test_a_simulated_trace_comes_back_as_it_was(tmp_path: Path) -> None:
    trace = simulate(scenario_with("air.loss=0.2", "duration_s=0.3"), seed=5, start=3)

    save(trace, tmp_path / "run.trace")
    again = load(tmp_path / "run.trace")

    assert same(again, trace)
    assert len(again.attempts) > 0
    assert not again.reads.flags.writeable


def test_empty_tables_come_back_empty(tmp_path: Path) -> None:
    trace = trace_of(scenario_with())

    save(trace, tmp_path / "run.trace")

    assert same(load(tmp_path / "run.trace"), trace)


def test_the_file_keeps_the_name_that_it_was_given(tmp_path: Path) -> None:
    save(trace_of(scenario_with()), tmp_path / "run")

    assert [path.name for path in tmp_path.iterdir()] == ["run"]


def test_a_trace_replaces_an_older_one(tmp_path: Path) -> None:
    path = tmp_path / "run.trace"
    save(trace_of(scenario_with()), path)
    later = simulate(scenario_with("duration_s=0.3"))
    save(later, path)

    assert same(load(path), later)


@pytest.mark.parametrize("inside", ["missing/run.trace", "file/run.trace"])
def test_a_place_that_cannot_be_written_is_said(tmp_path: Path, inside: str) -> None:
    (tmp_path / "file").write_text("in the way")

    with pytest.raises(TraceError, match=r"run\.trace: cannot be written: \w+"):
        save(trace_of(scenario_with()), tmp_path / inside)


def test_a_folder_is_not_overwritten(tmp_path: Path) -> None:
    (tmp_path / "run.trace").mkdir()

    with pytest.raises(TraceError, match=r"run\.trace: cannot be written: Is a directory"):
        save(trace_of(scenario_with()), tmp_path / "run.trace")

    assert [path.name for path in tmp_path.iterdir()] == ["run.trace"]


def test_a_pipe_is_written_to_and_not_replaced(tmp_path: Path) -> None:
    path, trace = tmp_path / "pipe", trace_of(scenario_with())
    os.mkfifo(path)
    read: list[bytes] = []
    reader = threading.Thread(target=lambda: read.append(path.read_bytes()))
    reader.start()
    save(trace, path)
    reader.join()

    assert path.is_fifo()
    (tmp_path / "copy.trace").write_bytes(read[0])
    assert load(tmp_path / "copy.trace").scenario == trace.scenario


def test_a_link_keeps_pointing_to_its_file(tmp_path: Path) -> None:
    path, link = tmp_path / "run.trace", tmp_path / "latest.trace"
    path.write_bytes(b"older")
    link.symlink_to(path)
    save(trace_of(scenario_with()), link)

    assert link.is_symlink()
    assert is_trace(path)


def test_a_stopped_save_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(_file: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stop)

    with pytest.raises(KeyboardInterrupt, match=r"^$"):
        save(trace_of(scenario_with()), tmp_path / "run.trace")

    assert list(tmp_path.iterdir()) == []


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(TraceError, match=r"none\.trace: cannot be read: No such file"):
        load(tmp_path / "none.trace")


@pytest.mark.parametrize("content", [b"", b"not a zip", b"PK\x03\x04" + bytes(100)])
def test_what_is_no_trace_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "run.trace"
    path.write_bytes(content)

    with pytest.raises(TraceError, match=r"run\.trace: is damaged, or not a saved trace"):
        load(path)


def test_a_damaged_trace_is_refused_wherever_the_damage_is(tmp_path: Path) -> None:
    path = tmp_path / "run.trace"
    save(simulate(scenario_with("duration_s=0.1")), path)
    whole = path.read_bytes()

    for position in range(0, len(whole), 97):
        damaged = bytearray(whole)
        damaged[position] ^= 0xFF
        path.write_bytes(damaged)
        try:
            load(path)
        except TraceError as error:
            assert "run.trace" in str(error)  # noqa: PT017 - most, not all, places are checked


def changed(path: Path, name: str, value: Any) -> None:
    arrays = parts(path)
    arrays[name] = value
    with path.open("wb") as file:
        np.savez(file, **arrays)


def as_bytes(value: Any) -> Any:
    return np.frombuffer(json.dumps(value).encode(), np.uint8)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("head", as_bytes({"format": 99})),
        ("head", as_bytes([1, 2])),
        ("head", as_bytes("text")),
        ("scenario", as_bytes({"title": 3})),
        ("reads", np.zeros((2, 3), np.int64)),
        ("reads", np.zeros(16, np.int64)),
        ("reads", np.zeros((2, 8), np.float64)),
        ("reads", np.zeros((), np.int64)),
    ],
)
def test_a_part_that_is_wrong_is_refused(tmp_path: Path, name: str, value: Any) -> None:
    path = tmp_path / "run.trace"
    save(trace_of(scenario_with()), path)
    changed(path, name, value)

    with pytest.raises(TraceError, match="is damaged, or not a saved trace"):
        load(path)


@pytest.mark.parametrize("key", ["format", "seed", "start", "duration_ns", "engine", "version"])
@pytest.mark.parametrize("wrong", [None, [], "missing"])
def test_a_head_that_lacks_something_is_refused(tmp_path: Path, key: str, wrong: Any) -> None:
    path = tmp_path / "run.trace"
    save(trace_of(scenario_with()), path)
    head = json.loads(parts(path)["head"].tobytes())
    if wrong == "missing":
        del head[key]
    else:
        head[key] = wrong
    changed(path, "head", as_bytes(head))

    with pytest.raises(TraceError, match="is damaged, or not a saved trace"):
        load(path)


def test_another_format_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "run.trace"
    save(trace_of(scenario_with()), path)
    head = json.loads(parts(path)["head"].tobytes())
    changed(path, "head", as_bytes({**head, "format": FORMAT + 1}))

    with pytest.raises(TraceError, match=f"format {FORMAT + 1}"):
        load(path)


def test_a_file_that_would_fill_the_memory_is_refused_unread(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "run.trace"
    save(trace_of(scenario_with()), path)
    monkeypatch.setattr(trace_file, "LARGEST_BYTES", 100)

    with pytest.raises(
        TraceError, match=r"must be at most 100 bytes, packed and unpacked, got [\d,]+"
    ):
        load(path)


def test_no_pickle_is_ever_opened(tmp_path: Path) -> None:
    path = tmp_path / "run.trace"
    save(trace_of(scenario_with()), path)
    changed(path, "reads", np.array([object()], dtype=object))

    with pytest.raises(TraceError, match=r"reads\.npy is no array of ours"):
        load(path)


def arrays_as(**headers: bytes) -> dict[str, bytes]:
    """Parts of an archive by file name, with these headers before a few numbers."""
    return {
        f"{name}.npy": b"\x93NUMPY\x01\x00" + len(header).to_bytes(2, "little") + header + bytes(64)
        for name, header in headers.items()
    }


def repacked(path: Path, parts: dict[str, bytes], packing: int = zipfile.ZIP_DEFLATED) -> None:
    with zipfile.ZipFile(path) as archive:
        kept = {name: archive.read(name) for name in archive.namelist() if name not in parts}
    with zipfile.ZipFile(path, "w", packing) as archive:
        for name, content in {**kept, **parts}.items():
            archive.writestr(name, content)


@pytest.mark.parametrize(
    "header",
    [
        b"{'descr': '<i8', 'fortran_order': False, 'shape': (1000000000000, 8), }\n",
        b"{'descr': '<i8', 'fortran_order': True, 'shape': (1, 8), }\n",
        b"{'descr': [('a', '<i8')], 'fortran_order': False, 'shape': (8,), }\n",
        b"{'descr': '|O', 'fortran_order': False, 'shape': (8,), }\n",
        b"{'shape': ((((((((((",
        b"[" * 900,
        b"",
        b"\xff" * 50,
        b"__import__('os').abort()",
    ],
)
def test_a_header_that_is_none_is_refused_in_one_line(tmp_path: Path, header: bytes) -> None:
    path = tmp_path / "run.trace"
    save(trace_of(scenario_with()), path)
    repacked(path, arrays_as(reads=header))

    with pytest.raises(
        TraceError, match=r"damaged, or not a saved trace: reads\.npy is "
    ) as caught:
        load(path)
    assert "\n" not in str(caught.value)


def test_a_part_that_is_far_longer_unpacked_is_refused_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "run.trace"
    save(trace_of(scenario_with()), path)
    repacked(path, {"reads.npy": bytes(80_000_000)})
    monkeypatch.setattr(zipfile.ZipFile, "open", None)

    with pytest.raises(TraceError, match=r"reads\.npy would be 80,000,000 bytes unpacked"):
        load(path)


@pytest.mark.parametrize("packing", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_another_packing_is_refused(tmp_path: Path, packing: int) -> None:
    path = tmp_path / "run.trace"
    save(trace_of(scenario_with()), path)
    repacked(path, {}, packing)

    with pytest.raises(TraceError, match="is packed in another way"):
        load(path)


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_part_that_is_there_twice_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "run.trace"
    save(trace_of(scenario_with()), path)
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("head.npy", b"")

    with pytest.raises(TraceError, match="parts are missing, or there twice"):
        load(path)


@pytest.mark.parametrize("word", ["1 $end $var", "\x1b[2J", "", "a\nb", "x" * 60])
@pytest.mark.parametrize("key", ["engine", "version"])
def test_words_that_could_become_something_else_in_a_file_are_refused(
    tmp_path: Path, key: str, word: str
) -> None:
    path = tmp_path / "run.trace"
    save(trace_of(scenario_with()), path)
    head = json.loads(parts(path)["head"].tobytes())
    changed(path, "head", as_bytes({**head, key: word}))

    with pytest.raises(TraceError, match="its engine or version is none"):
        load(path)


@pytest.mark.parametrize("name", ["$end", "a b", "\x1b[2J", "\n$enddefinitions $end", "-1"])
@pytest.mark.parametrize("table", ["transmitter", "output", "title"])
def test_names_that_could_become_something_else_in_a_file_are_refused(
    tmp_path: Path, table: str, name: str
) -> None:
    path = tmp_path / "run.trace"
    save(trace_of(scenario_with()), path)
    said = json.loads(parts(path)["scenario"].tobytes())
    if table == "title":
        said["title"] = f"{name}\n\x1b"
    else:
        units = said[table] or {"x": {"from": "drive.throttle", "kind": "motor"}}
        said[table] = {name: next(iter(units.values()))}
    changed(path, "scenario", as_bytes(said))

    with pytest.raises(TraceError, match="is damaged, or not a saved trace") as caught:
        load(path)
    assert str(caught.value).isprintable()


def test_a_saved_trace_keeps_the_neighbours_of_its_file(tmp_path: Path) -> None:
    mine, elsewhere = tmp_path / ".run.trace.part", tmp_path / "elsewhere"
    elsewhere.write_text("kept")
    mine.symlink_to(elsewhere)
    save(trace_of(scenario_with()), tmp_path / "run.trace")

    assert mine.is_symlink()
    assert elsewhere.read_text() == "kept"


def test_a_trace_is_told_from_a_scenario(tmp_path: Path) -> None:
    save(trace_of(scenario_with()), tmp_path / "run.trace")
    (tmp_path / "scenario.toml").write_text("seed = 1")

    assert is_trace(tmp_path / "run.trace")
    assert not is_trace(tmp_path / "scenario.toml")
    assert not is_trace(tmp_path / "none")
    assert zipfile.is_zipfile(tmp_path / "run.trace")


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [("reads", 6, 10**18), ("reads", 3, -1), ("passes", 0, 1 << 62), ("frames", 3, -(1 << 62))],
)
def test_times_outside_the_run_are_refused(
    tmp_path: Path, table: str, column: int, value: int
) -> None:
    path = tmp_path / "run.trace"
    save(simulate(scenario_with("duration_s=0.1")), path)
    rows = parts(path)[table]
    rows[:, column] = value
    changed(path, table, rows)

    with pytest.raises(TraceError, match=f"table {table} holds what cannot be"):
        load(path)


@pytest.mark.parametrize(
    ("key", "value", "text"),
    [
        ("duration_s", 9, "it does not last as long as its scenario"),
        ("receiver", {"loop_ms": 0}, "its scenario: receiver.loop_ms: must be >= 0.001"),
        ("failsafe", {"x": {"timeout_ms": 9}}, "its scenario: failsafe.x: must be the name of"),
    ],
)
def test_the_scenario_of_a_trace_is_judged_as_any_other(
    tmp_path: Path, key: str, value: Any, text: str
) -> None:
    path = tmp_path / "run.trace"
    save(simulate(scenario_with("duration_s=0.1")), path)
    said = json.loads(parts(path)["scenario"].tobytes())
    changed(path, "scenario", as_bytes({**said, key: value}))

    with pytest.raises(TraceError, match=re.escape(text)):
        load(path)


@pytest.mark.parametrize("kept", [slice(-1), slice(1, None), slice(0)])
def test_a_trace_without_all_its_frames_is_refused(tmp_path: Path, kept: slice) -> None:
    trace = simulate(scenario_with("air.loss=0", "duration_s=0.3"))
    path = tmp_path / "short.trace"
    save(dataclasses.replace(trace, frames=trace.frames[kept].copy()), path)

    with pytest.raises(TraceError, match="frames are other ones"):
        load(path)


def test_a_pass_that_reads_nothing_is_refused(tmp_path: Path) -> None:
    trace = simulate(scenario_with("duration_s=0.3"))
    path = tmp_path / "empty.trace"
    passes = np.concatenate([trace.passes, trace.passes[-1:]])
    passes["frames"][-1] = 0
    save(dataclasses.replace(trace, passes=passes), path)

    with pytest.raises(TraceError, match="passes read other frames than its reads say"):
        load(path)
