"""Machine code is kept for the next run, and taken only if it is still right."""

import errno
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from radiosim import whole_files
from radiosim.errors import Notice
from tests.examples import drawn
from tests.machine.modules import load

kept = pytest.importorskip("radiosim.machine.kept")
module = pytest.importorskip("radiosim.machine.module")
compiled = pytest.importorskip("radiosim.machine").compiled

BASE = (
    "import numpy as np\nSTEP = 3\nTABLE = np.array([1, 2])\n\n\ndef twice(n):\n    return 2 * n\n"
)
ROOT = (
    "from base_of_it import STEP, TABLE, twice\n\n\n"
    "def other(n):\n    return n\n\n\n"
    "def root(n):\n    return twice(n) + STEP + int(TABLE[1])\n"
)


LOADERS = []
"""Of code that others may still call."""


def forget() -> None:
    """Go on as a new process would."""
    LOADERS.append(kept._loader())
    kept.unkept.clear()
    for known in (kept._loader, kept._digest_of, kept.address_of, kept.linked, module.trees):
        known.cache_clear()


class Folder:
    """Two modules, and the code that was kept of them."""

    def __init__(self, path: Path, patch: pytest.MonkeyPatch) -> None:
        self.path, self.made = path, 0
        self.write(base_of_it=BASE, root_of_it=ROOT)
        make = kept._object_of

        def counted(made: Any) -> bytes:
            self.made += 1
            code: bytes = make(made)
            return code

        patch.setattr(kept, "_object_of", counted)

    def write(self, **sources: str) -> None:
        for name, source in sources.items():
            (self.path / f"{name}.py").write_text(source, encoding="utf-8")

    def call(self, n: int) -> int:
        """What the root gives in a process of its own, for all it knows."""
        forget()
        load(self.path / "base_of_it.py")
        result: int = compiled(load(self.path / "root_of_it.py").root)(n)
        return result

    def files(self) -> list[Path]:
        return [path for path in (self.path / "radiosim").rglob("*") if path.is_file()]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Folder]:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    yield Folder(tmp_path, monkeypatch)
    forget()


def test_code_is_made_once_and_kept(folder: Folder) -> None:
    assert [folder.call(5), folder.call(6)] == [15, 17]
    assert folder.made == 1
    (file,) = folder.files()
    assert file.name.startswith("root_of_it.root.")
    assert file.stat().st_size < 3_000


@pytest.mark.parametrize(
    ("changed", "given", "wanted"),
    [
        ("base_of_it", "2 * n", 15 + 5),
        ("base_of_it", "STEP = 3", 15 + 1),
        ("base_of_it", "[1, 2]", 15 + 2),
        ("root_of_it", "twice(n) +", 15 + 1),
    ],
)
def test_code_is_made_anew_once_what_it_was_made_from_is_different(
    folder: Folder, changed: str, given: str, wanted: int
) -> None:
    folder.call(5)
    others = {"2 * n": "3 * n", "STEP = 3": "STEP = 4", "[1, 2]": "[1, 4]"}
    source = {"base_of_it": BASE, "root_of_it": ROOT}[changed]
    folder.write(**{changed: source.replace(given, others.get(given, "1 + twice(n) +"))})

    assert [folder.call(5), folder.call(5)] == [wanted, wanted]
    assert folder.made == 2
    assert len(folder.files()) == 1


def test_globals_and_files_that_a_root_does_not_see_do_not_matter(folder: Folder) -> None:
    folder.call(5)
    folder.write(unseen="STEP = 4\n")
    # Same names and values from another place, in a module whose functions are not called.
    folder.write(base_of_it=BASE)

    assert folder.call(5) == 15
    assert folder.made == 1


def test_another_machine_or_emitter_has_files_of_its_own(
    folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder.call(5)
    monkeypatch.setattr(kept, "_emitter", lambda: "another")

    assert folder.call(5) == 15
    assert folder.made == 2
    assert len(folder.files()) == 2


@given(st.data())
@settings(max_examples=drawn(60), suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_cut_and_damaged_files_are_made_again(folder: Folder, data: st.DataObject) -> None:
    folder.call(5)
    (file,) = folder.files()
    whole, before = file.read_bytes(), folder.made
    at = data.draw(st.integers(0, len(whole) - 1))
    if data.draw(st.booleans()):
        file.write_bytes(whole[:at])
    else:
        file.write_bytes(
            whole[:at] + bytes([whole[at] ^ data.draw(st.integers(1, 255))]) + whole[at + 1 :]
        )

    assert folder.call(5) == 15
    assert folder.made == before + 1
    assert file.read_bytes() == whole


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no such files")
def test_what_is_no_file_is_neither_read_nor_written_to(folder: Folder) -> None:
    folder.call(5)
    (file,) = folder.files()
    file.unlink()
    os.mkfifo(file)  # whoever opens it waits for ever

    with pytest.warns(Notice, match="cannot be kept"):
        assert folder.call(5) == 15


def test_without_a_folder_to_write_to_code_is_made_each_time(
    folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    blocked = folder.path / "no folder"
    blocked.write_text("", encoding="utf-8")
    monkeypatch.setenv("XDG_CACHE_HOME", str(blocked))

    with pytest.warns(Notice, match="compiled code cannot be kept: Not a directory; the next run"):
        assert [folder.call(5), folder.call(5)] == [15, 15]
    assert folder.made == 2


def test_a_user_without_a_home_is_told_that_code_is_not_kept(
    folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    def homeless() -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setattr(Path, "home", homeless)

    with pytest.warns(Notice, match="cannot be kept: there is no home"):
        assert folder.call(5) == 15
    assert not kept.is_kept(compiled)


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EACCES, errno.EROFS])
@pytest.mark.parametrize("where", ["write_out", "replace", "mkdir"])
def test_a_full_or_read_only_folder_is_left_as_it_was(
    folder: Folder, monkeypatch: pytest.MonkeyPatch, number: int, where: str
) -> None:
    def fails(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    if where == "write_out":
        monkeypatch.setattr(whole_files, "_write_out", fails)
    else:
        monkeypatch.setattr(Path, where, fails)

    with pytest.warns(Notice, match=f"cannot be kept: {os.strerror(number)}; "):
        assert folder.call(5) == 15
    assert folder.files() == []
    # Told once, and there for processes that work for this one.
    (code,) = kept.unkept.values()
    assert kept.head_of(code) is not None


CALLED = """
from radiosim.machine import compiled


@compiled
def half(x, is_up, pair):
    return x / 2 + pair[1] if is_up else x - pair[0]


@compiled
def is_odd(n):
    return n % 2 == 1


@compiled
def add(values, n):
    values[0] += n


@compiled
def count(values):
    return len(values)
"""
CALLER = """
from called_apart import add, count, half, is_odd


def root(values, n, x):
    add(values[1:], n)
    if is_odd(n):
        return half(x, n > 3, (n, 0.25)), count(values[:n])
    return x, -1
"""


def call_apart(folder: Folder, values: np.ndarray, n: int) -> tuple[float, int]:
    """What a root gives that calls others, in a process of its own, for all it knows."""
    forget()
    load(folder.path / "called_apart.py")
    result: tuple[float, int] = compiled(load(folder.path / "caller_of_it.py").root)(values, n, 8.0)
    return result


def test_roots_that_are_called_have_code_of_their_own(folder: Folder) -> None:
    folder.write(called_apart=CALLED, caller_of_it=CALLER)
    values = np.array([1, 2, 3])

    found = [call_apart(folder, values, n) for n in (5, 3, 4)]

    assert found == [(4.25, 5), (5.0, 3), (8.0, -1)]
    assert values.tolist() == [1, 14, 3]
    assert folder.made == 5
    assert {file.name.split(".")[1] for file in folder.files()} == {
        *("root", "half", "is_odd", "add", "count")
    }


def test_what_calls_a_root_that_has_changed_is_made_anew_with_it(folder: Folder) -> None:
    folder.write(called_apart=CALLED, caller_of_it=CALLER)
    values = np.array([1, 2, 3])
    call_apart(folder, values, 5)
    folder.write(called_apart=CALLED.replace("x / 2", "x * 2").replace("n % 2 == 1", "n % 2"))

    found = [call_apart(folder, values, n) for n in (5, 4)]

    assert found == [(16.25, 5), (8.0, -1)]
    assert folder.made == 10


RUN = """
import sys
sys.path.insert(0, {folder!r})
from radiosim.machine import compiled
import root_of_it
print(compiled(root_of_it.root)(5))
"""


def test_first_runs_that_race_all_work_and_leave_whole_code(folder: Folder) -> None:
    program = RUN.format(folder=str(folder.path))
    racers = [
        subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True)
        for _ in range(3)
    ]

    assert [racer.communicate()[0].strip() for racer in racers] == ["15"] * 3
    assert len(folder.files()) == 1
    assert folder.call(5) == 15
    assert folder.made == 0
