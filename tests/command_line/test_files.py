"""Files are written all or nothing, never outside the folder, and never over a stranger's work."""

from __future__ import annotations

import io
import os
from pathlib import Path
from typing import Any

import pytest

from targets.files import NotWritten, need_folder, new_file, replace_file, write_files
from targets.slug import slug


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


def test_papers_of_an_earlier_build_do_not_stay_beside_new_ones(tmp_path: Path) -> None:
    """Whoever wires from the folder must not find a sheet of another revision in it."""
    write_files(tmp_path, {"index.html": "1", "a-1.svg": "1", "a-2.svg": "1", "b.csv": "1"}, of="Press")
    (tmp_path / "b.csv").write_text("edited by hand")
    (tmp_path / "notes.txt").write_text("mine")
    found = write_files(tmp_path, {"index.html": "2", "a.svg": "2"}, of="Press")
    assert (found.gone, found.left) == (("a-1.svg", "a-2.svg"), ("b.csv",))
    assert names(tmp_path) == ["a.svg", "b.csv", "index.html", "notes.txt"]
    again = write_files(tmp_path, {"index.html": "3", "a.svg": "3"}, of="Press")
    assert (again.gone, again.left) == ((), ("b.csv",))


def test_machines_share_a_folder_but_no_file(tmp_path: Path) -> None:
    write_files(tmp_path, {"press-1.st": "1"}, of="Press 1")
    write_files(tmp_path, {"saw.st": "1"}, of="Saw")
    with pytest.raises(NotWritten, match=r'press-1\.st .* another machine, "Press 1"'):
        write_files(tmp_path, {"press-1.st": "2"}, of="Press-1")
    assert (tmp_path / "press-1.st").read_text() == "1"
    assert names(tmp_path) == ["press-1.st", "saw.st"]
    write_files(tmp_path, {"press-1.st": "2"}, of="Press-1", force=True)
    assert (tmp_path / "press-1.st").read_text() == "2"


@pytest.mark.parametrize("before", range(5))
def test_after_a_death_between_two_renames_its_files_are_known(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, before: int
) -> None:
    """Dead ``before`` one of its renames: the list, three files, the list again."""
    files = ("a.txt", "b.txt", "c.txt")
    write_files(tmp_path, dict.fromkeys((*files, "stale.txt"), "1"), of="Press")
    done: list[Path] = []
    real = os.replace

    class Dead(BaseException):
        pass

    def replace(source: str, target: Path) -> None:
        if len(done) == before:
            raise Dead
        done.append(target)
        real(source, target)

    monkeypatch.setattr(os, "replace", replace)
    monkeypatch.setattr(os, "unlink", lambda path: None)  # the dead clean nothing up
    with pytest.raises(Dead):
        write_files(tmp_path, dict.fromkeys(files, "2"), of="Press")
    monkeypatch.undo()
    for path in tmp_path.glob(".rungwright-*"):
        if path.suffix != ".json":
            os.utime(path, (0, 0))
    write_files(tmp_path, dict.fromkeys(files, "3"), of="Press")
    assert {(tmp_path / name).read_text() for name in files} == {"3"}
    assert names(tmp_path) == list(files)


def test_a_folder_that_cannot_be_is_told_and_none_is_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    (tmp_path / "dangling").symlink_to(tmp_path / "nowhere")
    for folder in (tmp_path / "file", tmp_path / "file" / "in", tmp_path / "dangling"):
        with pytest.raises(NotWritten, match="cannot be"):
            need_folder(folder)
    need_folder(tmp_path / "new" / "deep")
    assert names(tmp_path) == ["dangling", "file"]


def test_titles_in_other_letters_are_told_apart() -> None:
    assert slug("Вырубной пресс") != slug("Пресс")
    assert slug("Вырубной пресс").startswith("sequence-")
    assert slug("") == "sequence"


def test_a_new_file_is_never_written_over_nor_left_half_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    new_file(tmp_path / "a.seq", "1")
    with pytest.raises(FileExistsError):
        new_file(tmp_path / "a.seq", "2")
    assert (tmp_path / "a.seq").read_text() == "1"

    real = io.open

    def on_a_full_disk(*args: Any, **more: Any) -> Any:
        out = real(*args, **more)
        out.write = full
        return out

    def full(text: str) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(io, "open", on_a_full_disk)
    with pytest.raises(OSError, match="No space left"):
        new_file(tmp_path / "b.seq", "1")
    assert names(tmp_path) == ["a.seq"]
