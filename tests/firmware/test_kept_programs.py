"""What was compiled before, whatever happened to it meanwhile."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from radiosim.firmware import kept_programs
from radiosim.firmware.kept_programs import cache_folder, keep, kept


@pytest.fixture
def made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    folder = tmp_path / "made"
    folder.mkdir()
    (folder / "rx").write_bytes(b"\x7fELF and so on")
    (folder / "rx").chmod(0o755)
    (folder / "warnings").write_text("")
    return folder


def test_what_is_kept_is_found_again_and_replaces_what_was(made: Path) -> None:
    assert kept("a") is None
    place = keep(made, "a")
    assert place != made
    assert kept("a") == place
    assert (place / "rx").read_bytes() == (made / "rx").read_bytes()

    (made / "rx").write_bytes(b"another")
    assert (keep(made, "a") / "rx").read_bytes() == b"another"
    assert [path.name for path in place.parent.iterdir()] == ["a"]


@pytest.mark.parametrize(
    "damage",
    [
        lambda place: (place / "rx").write_bytes(b""),
        lambda place: (place / "rx").write_bytes((place / "rx").read_bytes()[:-1]),
        lambda place: (place / "rx").chmod(0o644),
        lambda place: (place / "warnings").unlink(),
        lambda place: (place / "seal").write_bytes(b"\xff"),
        lambda place: (place / "more").mkdir(),
    ],
)
def test_what_is_damaged_is_not_used_and_made_again(
    made: Path, damage: Callable[[Path], object]
) -> None:
    damage(keep(made, "a"))
    assert kept("a") is None
    assert keep(made, "a") == kept("a")


def test_where_nothing_can_be_kept_what_was_made_is_used(
    made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "cache").write_text("no folder")
    assert keep(made, "a") == made
    (tmp_path / "cache").unlink()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(kept_programs.shutil, "copytree", full)
    assert keep(made, "a") == made
    folder = cache_folder()
    assert folder is not None
    assert list(folder.iterdir()) == []


def test_the_oldest_make_room(made: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_programs, "_MOST_KEPT", 2)
    for number, name in enumerate("abc"):
        os.utime(keep(made, name), (number, number))
    newest = keep(made, "d")

    assert {path.name for path in newest.parent.iterdir()} == {"c", "d"}
