"""From the bytes of a file to a Source: which encoding, which line ends, and is it text at all?"""

from __future__ import annotations

import codecs
import unicodedata

from grammar.diagnostic import Diagnostic, Severity
from grammar.source import Source

__all__ = ["LARGEST", "decode", "normalise"]

LARGEST = 1_000_000
"""The most bytes a file may have. A program of a thousand steps takes about a tenth of this."""

_UTF_16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_UTF_32 = (codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)
# Control characters that have no business in text; a file with several of them is not text.
_CONTROLS = {c for c in map(chr, range(32)) if c not in "\t\n\r\f\v\x1a"}


def normalise(text: str) -> str:
    """The text with ``\\n`` line ends only and without a byte order mark in front."""
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")


def decode(name: str, data: bytes) -> tuple[Source, Diagnostic | None]:
    """The Source a file holds, or an empty Source and the one reason it can't be read. Never raises.

    UTF-8 with or without a byte order mark, and UTF-16 with one, are read. Codes RW001 to RW003.
    """
    if len(data) > LARGEST:
        return Source(name, ""), _too_large(name, len(data))
    try:
        text = data.decode("utf-16") if _is_utf_16(data) else data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return Source(name, ""), _not_utf_8(name, data, error.start)
    if _is_binary(text):
        return Source(name, ""), _binary(name)
    return Source(name, normalise(text)), None


def _is_utf_16(data: bytes) -> bool:
    return data.startswith(_UTF_16) and not data.startswith(_UTF_32)


def _is_binary(text: str) -> bool:
    strange = sum(text.count(c) for c in _CONTROLS)
    return "\0" in text or strange * 20 > len(text)


def _too_large(name: str, size: int) -> Diagnostic:
    return Diagnostic(
        "RW003",
        Severity.FAULT,
        f"{name} has {size:,} bytes; a program has at most {LARGEST:,}",
        cure="check that it is the right file",
    )


def _binary(name: str) -> Diagnostic:
    return Diagnostic(
        "RW001",
        Severity.FAULT,
        f"{name} is not text",
        expected="a text file with a machine sequence in it",
        cure="check that it is the right file",
    )


def _not_utf_8(name: str, data: bytes, offset: int) -> Diagnostic:
    if _is_binary(data.decode("latin-1")):
        return _binary(name)
    line = data.count(b"\n", 0, offset) + 1
    byte = data[offset] if offset < len(data) else 0
    return Diagnostic(
        "RW002",
        Severity.FAULT,
        f"{name} is not UTF-8 text: line {line} holds byte {byte:02X} (hexadecimal), which stands for nothing there"
        f"{_guess(byte)}",
        cure="save the file again with the encoding UTF-8",
    )


def _guess(byte: int) -> str:
    """What an older single-byte encoding would make of it: most often the letter the user meant."""
    try:
        letter = bytes([byte]).decode("cp1252")
    except UnicodeDecodeError:
        return ""
    return f" (perhaps {letter} from an older encoding)" if unicodedata.category(letter)[0] in "LPS" else ""
