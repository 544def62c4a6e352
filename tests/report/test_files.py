import os
from pathlib import Path

import pytest

from radiosim.report.files import (
    ReportError,
    check_file,
    check_folder,
    write_folder,
    write_new,
    write_whole,
)


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture
def full_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", refuse)


def test_a_file_is_written_and_nothing_stays_beside_it(tmp_path: Path) -> None:
    write_whole(tmp_path / "a.json", "ä\n")

    assert (tmp_path / "a.json").read_text(encoding="utf-8") == "ä\n"
    assert names(tmp_path) == ["a.json"]


@pytest.mark.usefixtures("full_disk")
def test_a_failed_write_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "a.json"
    path.write_text("old", encoding="utf-8")

    with pytest.raises(ReportError, match=r"a\.json: cannot be written: No space left on device"):
        write_whole(path, "new")
    assert path.read_text(encoding="utf-8") == "old"
    assert names(tmp_path) == ["a.json"]


def test_a_missing_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ReportError, match=r"none/a\.json: must be in a folder that exists, got "):
        check_file(tmp_path / "none" / "a.json")


def test_a_folder_is_no_file_and_a_file_no_folder(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("", encoding="utf-8")

    with pytest.raises(ReportError, match="must be a file, got a folder"):
        check_file(tmp_path)
    with pytest.raises(ReportError, match="must be a folder, got a file"):
        check_folder(tmp_path / "a")


def test_a_link_keeps_pointing_to_its_file(tmp_path: Path) -> None:
    (tmp_path / "real").write_text("old", encoding="utf-8")
    (tmp_path / "link").symlink_to("real")

    write_whole(tmp_path / "link", "new")

    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_text(encoding="utf-8") == "new"


def test_a_device_is_written_to_and_not_replaced() -> None:
    write_whole(Path(os.devnull), "text")

    assert not Path(os.devnull).is_file()


def test_a_new_file_never_takes_the_place_of_another(tmp_path: Path) -> None:
    path = tmp_path / "scenario.toml"
    path.write_text("mine", encoding="utf-8")

    with pytest.raises(ReportError, match="must be a new file, got one that exists"):
        write_new(path, "theirs")
    assert path.read_text(encoding="utf-8") == "mine"


def test_other_files_of_a_folder_stay(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")

    write_folder(tmp_path, {"a.csv": "1\n", "b.csv": "2\n"})

    assert names(tmp_path) == ["a.csv", "b.csv", "notes.txt"]
    assert (tmp_path / "notes.txt").read_text(encoding="utf-8") == "mine"


@pytest.mark.usefixtures("full_disk")
def test_a_folder_that_cannot_be_filled_is_not_left_behind(tmp_path: Path) -> None:
    with pytest.raises(ReportError, match="cannot be written"):
        write_folder(tmp_path / "tables", {"a.csv": "1\n", "b.csv": "2\n"})
    assert names(tmp_path) == []
