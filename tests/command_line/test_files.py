"""Files are written all or nothing, never outside the folder, and never over a stranger's work."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from targets.files import NotWritten, replace_file, write_files


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir() if p.name != ".rungwright-files.json")


def test_files_are_written_and_written_again(tmp_path: Path) -> None:
    write_files(tmp_path / "new" / "out", {"a.txt": "1\n", "b.txt": "2\n"})
    write_files(tmp_path / "new" / "out", {"a.txt": "3\n"})
    assert (tmp_path / "new" / "out" / "a.txt").read_bytes() == b"3\n"
    assert names(tmp_path / "new" / "out") == ["a.txt", "b.txt"]


def test_a_file_rungwright_did_not_write_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("mine")
    with pytest.raises(NotWritten, match=r"a\.txt"):
        write_files(tmp_path, {"a.txt": "ours", "b.txt": "ours"})
    assert (tmp_path / "a.txt").read_text() == "mine"
    assert names(tmp_path) == ["a.txt"]


def test_a_file_changed_since_is_left_alone_until_forced(tmp_path: Path) -> None:
    write_files(tmp_path, {"a.txt": "1"})
    (tmp_path / "a.txt").write_text("edited by hand")
    with pytest.raises(NotWritten):
        write_files(tmp_path, {"a.txt": "2"})
    write_files(tmp_path, {"a.txt": "2"}, force=True)
    assert (tmp_path / "a.txt").read_text() == "2"


@pytest.mark.parametrize("name", ["../a.txt", "/tmp/a.txt", "sub/a.txt", "", ".hidden", ".."])
def test_only_plain_names_inside_the_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(NotWritten):
        write_files(tmp_path / "out", {name: "x"})
    assert not (tmp_path / "out").exists()


def test_a_link_is_not_written_through(tmp_path: Path) -> None:
    victim = tmp_path / "victim"
    victim.write_text("mine")
    out = tmp_path / "out"
    out.mkdir()
    (out / "a.txt").symlink_to(victim)
    with pytest.raises(NotWritten):
        write_files(out, {"a.txt": "ours"})
    assert victim.read_text() == "mine"


def test_a_failure_half_way_leaves_every_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_files(tmp_path, {"a.txt": "1", "b.txt": "1"})

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(NotWritten, match="No space left"):
        write_files(tmp_path, {"a.txt": "2", "b.txt": "2"})
    assert names(tmp_path) == ["a.txt", "b.txt"]
    assert {p.read_text() for p in tmp_path.glob("*.txt")} == {"1"}


def test_a_folder_in_the_way_is_told(tmp_path: Path) -> None:
    (tmp_path / "a.txt").mkdir()
    with pytest.raises(NotWritten):
        write_files(tmp_path, {"a.txt": "1"}, force=True)
    assert names(tmp_path) == ["a.txt"]


def test_replacing_one_file_keeps_its_mode_and_follows_its_link(tmp_path: Path) -> None:
    real, link = tmp_path / "real.seq", tmp_path / "link.seq"
    real.write_text("old")
    real.chmod(0o600)
    link.symlink_to(real)
    replace_file(link, "new")
    assert link.is_symlink()
    assert (real.read_text(), real.stat().st_mode & 0o777) == ("new", 0o600)
