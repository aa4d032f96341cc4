"""Writing a set of files safely: all or nothing, never outside the folder, never over a stranger's file."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from hashlib import sha256
from pathlib import Path

__all__ = ["NotWritten", "replace_file", "write_files"]

# The list of what Rungwright wrote in a folder, so that it knows its own files again.
_LIST = ".rungwright-files.json"


class NotWritten(Exception):
    """The files were not written; every file in the folder is as it was. Its text says why and what to do."""


def write_files(folder: Path, files: Mapping[str, str | bytes], *, force: bool = False) -> list[Path]:
    """Write files (by name) into a folder, texts as UTF-8 with ``\\n`` line ends.

    Every file is first written beside its place and then renamed into it. A file that Rungwright did not write, or
    that was changed since, is left alone unless ``force``. Raises NotWritten before anything is replaced.
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
        _refuse_strangers(folder, files, known)
    known |= {name: _digest(_bytes(content)) for name, content in files.items()}
    listing = json.dumps(known, indent=1, sort_keys=True) + "\n"
    _replace_all(folder, {**files, _LIST: listing})
    return [folder / name for name in files]


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


def _refuse_strangers(folder: Path, files: Mapping[str, str | bytes], known: dict[str, str]) -> None:
    strangers = []
    for name, content in files.items():
        path = folder / name
        if path.is_symlink() or (path.exists() and not path.is_file()):
            strangers.append(name)
        elif path.exists():
            digest = _digest(path.read_bytes())
            if digest not in (known.get(name), _digest(_bytes(content))):
                strangers.append(name)
    if strangers:
        names = ", ".join(strangers)
        raise NotWritten(
            f"{names} in {folder} would be overwritten, and Rungwright did not write it, or it was changed since; "
            "choose another folder with -o, or add --force"
        )


def _replace_all(folder: Path, files: Mapping[str, str | bytes]) -> None:
    made: list[tuple[str, Path]] = []
    try:
        for name, content in files.items():
            made.append((_write_beside(folder / name, content), folder / name))
        for _, path in made:
            if path.is_dir():
                raise NotWritten(f"{path} is a folder")
        for temporary, path in made:
            os.replace(temporary, path)
    except OSError as wrong:
        raise NotWritten(f"the files in {folder} could not be written: {wrong.strerror}") from None
    finally:
        for temporary, _ in made:
            with suppress(OSError):
                os.unlink(temporary)


def _write_beside(path: Path, content: str | bytes) -> str:
    """A temporary file with a content, in the folder of the file it is to become."""
    handle, temporary = tempfile.mkstemp(prefix=".rungwright-", dir=path.parent)
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


def _known(folder: Path) -> dict[str, str]:
    with suppress(OSError, ValueError):
        found = json.loads((folder / _LIST).read_text(encoding="utf-8"))
        if isinstance(found, dict):
            return {str(name): str(digest) for name, digest in found.items()}
    return {}


def _bytes(content: str | bytes) -> bytes:
    return content.encode() if isinstance(content, str) else content


def _digest(data: bytes) -> str:
    return sha256(data).hexdigest()
