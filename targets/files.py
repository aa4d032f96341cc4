"""Writing a set of files safely: all or nothing, never outside the folder, never over a stranger's file."""

from __future__ import annotations

import json
import os
import tempfile
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from hashlib import sha256
from pathlib import Path

__all__ = ["NotWritten", "Written", "need_folder", "new_file", "replace_file", "write_files"]

# The list of what Rungwright wrote in a folder, so that it knows its own files again.
_LIST = ".rungwright-files.json"
_BESIDE = ".rungwright-"  # what the names of temporary files begin with
_DEAD_S = 3600  # a temporary file this old is left of a run that was killed


class NotWritten(Exception):
    """The files were not written; every file in the folder is as it was. Its text says why and what to do."""


@dataclass(frozen=True, slots=True)
class Written:
    """The files written; the names of those of an earlier build that were taken away, since this one has no such
    file; and of those left there, since they were changed by hand."""

    paths: tuple[Path, ...] = ()
    gone: tuple[str, ...] = ()
    left: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Known:
    """What was written under a name: of which machine, its digest, and while it is being written the old one too."""

    of: str | None
    digests: tuple[str, ...]


def need_folder(folder: Path) -> None:
    """Raises NotWritten where files could not be written into a folder, or it could not be made. Nothing is made."""
    there = next(path for path in (folder, *folder.absolute().parents) if path.exists() or path.is_symlink())
    try:
        with tempfile.TemporaryFile(dir=there):
            pass
    except OSError as wrong:
        what = "written into" if there == folder else "made"
        raise NotWritten(f"the folder {folder} cannot be {what}: {wrong.strerror}") from None


def write_files(
    folder: Path, files: Mapping[str, str | bytes], *, of: str | None = None, force: bool = False
) -> Written:
    """Write files (by name) into a folder, texts as UTF-8 with ``\\n`` line ends: the papers ``of`` a machine.

    Every file is first written beside its place and then renamed into it. A file that Rungwright did not write, that
    is of another machine or was changed since, is left alone unless ``force``. Papers of the same machine that an
    earlier build wrote and this one does not have are taken away, for they may tell of another sequence. Raises
    NotWritten before anything is replaced.
    """
    for name in files:
        if name != Path(name).name or name.startswith(".") or name in ("", _LIST):
            raise NotWritten(f"{name!r} is not a plain file name")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as wrong:
        raise NotWritten(f"the folder {folder} cannot be made: {wrong.strerror}") from None
    known = _known(folder)
    if not force:
        _refuse_strangers(folder, files, known, of)
    now = {name: _Known(of, (_digest(_bytes(content)),)) for name, content in files.items()}
    either = {
        name: _Known(of, (*known[name].digests, *one.digests)) if name in known else one for name, one in now.items()
    }
    earlier = (
        {name: one for name, one in known.items() if one.of == of and name not in files} if of is not None else {}
    )
    ours = {name: one for name, one in earlier.items() if _is(folder / name, one.digests)}
    others = {name: one for name, one in known.items() if name not in ours}
    _replace_all(folder, files, tuple(ours), before=_listing(known | either), after=_listing(others | now))
    _sweep(folder)
    left = tuple(name for name in earlier if name not in ours and (folder / name).exists())
    return Written(tuple(folder / name for name in files), tuple(ours), left)


def new_file(path: Path, text: str) -> None:
    """Write a file that is not there yet, whole or not at all. Raises OSError, FileExistsError where it is there."""
    with path.open("x", encoding="utf-8", newline="\n") as out:
        try:
            out.write(text)
            out.flush()
        except OSError:
            path.unlink()
            raise


def replace_file(path: Path, text: str) -> None:
    """Put a text in place of a file's content (or make the file) in one move. Raises OSError; the file is then as
    it was. A link is followed, so that the file it names is replaced and not the link."""
    target = path.resolve()
    temporary = _write_beside(target, text)
    try:
        if target.exists():
            os.chmod(temporary, target.stat().st_mode & 0o777)
        os.replace(temporary, target)
    finally:
        with suppress(OSError):
            os.unlink(temporary)


def _refuse_strangers(
    folder: Path, files: Mapping[str, str | bytes], known: dict[str, _Known], of: str | None
) -> None:
    strangers, namesakes = [], dict[str, str]()
    for name, content in files.items():
        path, one = folder / name, known.get(name, _Known(None, ()))
        if not path.exists() and not path.is_symlink():
            continue
        if not path.is_file() or not _is(path, (*one.digests, _digest(_bytes(content)))):
            strangers.append(name)
        elif one.of is not None and one.of != of:
            namesakes[name] = one.of
    cure = "choose another folder with -o, or add --force"
    if strangers:
        names = ", ".join(strangers)
        raise NotWritten(
            f"{names} in {folder} would be overwritten, and Rungwright did not write it, or it was changed since; "
            f"{cure}"
        )
    if namesakes:
        raise NotWritten(
            f"{', '.join(namesakes)} in {folder} would be overwritten, and is of {_whose(namesakes)}; {cure}"
        )


def _whose(namesakes: Mapping[str, str]) -> str:
    return " and ".join(
        f'another machine, "{title}"' if title else "a machine without a name"
        for title in dict.fromkeys(namesakes.values())
    )


def _replace_all(
    folder: Path, files: Mapping[str, str | bytes], gone: Sequence[str], *, before: str, after: str
) -> None:
    """Every file in its place, then those that are ``gone`` away; the list of all ``before`` any and ``after`` the
    last, so that whoever comes after a run that was killed in between finds each file, old or new, in the list."""
    made: list[tuple[str, Path]] = []
    everything = [(_LIST, before), *files.items(), (_LIST, after)]
    try:
        for name, content in everything:
            made.append((_write_beside(folder / name, content), folder / name))
        for _, path in made:
            if path.is_dir():
                raise NotWritten(f"{path} is a folder")
        *rest, (last, listed) = made
        for temporary, path in rest:
            os.replace(temporary, path)
        for name in gone:
            (folder / name).unlink(missing_ok=True)
        os.replace(last, listed)
    except OSError as wrong:
        raise NotWritten(f"the files in {folder} could not be written: {wrong.strerror}") from None
    finally:
        for temporary, _ in made:
            with suppress(OSError):
                os.unlink(temporary)


def _sweep(folder: Path) -> None:
    """Take away what runs that were killed left half written."""
    for path in folder.glob(f"{_BESIDE}*"):
        with suppress(OSError):
            if path.name != _LIST and time.time() - path.stat().st_mtime > _DEAD_S:
                path.unlink()


def _write_beside(path: Path, content: str | bytes) -> str:
    """A temporary file with a content, in the folder of the file it is to become."""
    handle, temporary = tempfile.mkstemp(prefix=_BESIDE, dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(_bytes(content))
            out.flush()
            os.fsync(out.fileno())
        os.chmod(temporary, 0o644)
    except BaseException:
        with suppress(OSError):
            os.unlink(temporary)
        raise
    return temporary


def _known(folder: Path) -> dict[str, _Known]:
    with suppress(OSError, ValueError, TypeError, KeyError):
        found = json.loads((folder / _LIST).read_text(encoding="utf-8"))
        return {
            name: _Known(None, (one,)) if isinstance(one, str) else _Known(one["of"], tuple(one["digests"]))
            for name, one in found.items()
        }
    return {}


def _listing(known: Mapping[str, _Known]) -> str:
    return json.dumps({name: asdict(one) for name, one in known.items()}, indent=1, sort_keys=True) + "\n"


def _is(path: Path, digests: Sequence[str]) -> bool:
    """Whether a file has one of these contents."""
    with suppress(OSError):
        return not path.is_symlink() and _digest(path.read_bytes()) in digests
    return False


def _bytes(content: str | bytes) -> bytes:
    return content.encode() if isinstance(content, str) else content


def _digest(data: bytes) -> str:
    return sha256(data).hexdigest()
