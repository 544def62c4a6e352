"""Files written whole or not at all."""

import os
import stat
from pathlib import Path

import pytest

from radiosim.whole_files import put_all


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o444, 0o755])
def test_a_file_that_is_replaced_keeps_its_permissions(tmp_path: Path, mode: int) -> None:
    path = tmp_path / "a"
    path.write_text("before")
    path.chmod(mode)
    put_all({path: b"after"})

    assert path.read_bytes() == b"after"
    assert stat.S_IMODE(path.stat().st_mode) == mode


def test_a_new_file_has_the_permissions_of_any_new_file(tmp_path: Path) -> None:
    put_all({tmp_path / "a": b""})
    (tmp_path / "b").write_bytes(b"")

    assert (tmp_path / "a").stat().st_mode == (tmp_path / "b").stat().st_mode


def test_a_link_stays_a_link_in_every_folder(tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "kept" / "a")
    put_all({tmp_path / "link": b"1", tmp_path / "b": b"2"})

    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "kept" / "a").read_bytes() == b"1"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["b", "kept", "link"]


def test_all_or_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a").write_bytes(b"before")
    (tmp_path / "b").mkdir()
    with pytest.raises(OSError, match="irectory"):
        put_all({tmp_path / "c" / "d": b"", tmp_path / "a": b"after"})
    monkeypatch.setattr(os, "fsync", lambda _: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        put_all({tmp_path / "a": b"after"})

    assert (tmp_path / "a").read_bytes() == b"before"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a", "b"]


def test_a_long_name_has_room_beside_it(tmp_path: Path) -> None:
    path = tmp_path / ("n" * 255)
    put_all({path: b"1"})

    assert path.read_bytes() == b"1"


def test_a_link_under_the_name_beside_a_place_is_not_followed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("radiosim.whole_files.secrets.token_hex", lambda _: "drawn")
    (tmp_path / "mine").write_text("kept")
    (tmp_path / ".a.drawn").symlink_to(tmp_path / "mine")

    with pytest.raises(FileExistsError):
        put_all({tmp_path / "a": b"another"})
    assert (tmp_path / "mine").read_text() == "kept"
    assert not (tmp_path / "a").exists()
