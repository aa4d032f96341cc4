"""Bytes to text: encodings, line ends, what is not text (UTF-8 and UTF-16 per the Unicode standard)."""

from __future__ import annotations

import codecs

import pytest

from grammar.text import LARGEST, decode

_TEXT = "lamp ÖL\ncycle\n"


@pytest.mark.parametrize(
    "data",
    [
        _TEXT.encode(),
        codecs.BOM_UTF8 + _TEXT.encode(),
        _TEXT.encode("utf-16"),
        codecs.BOM_UTF16_BE + _TEXT.encode("utf-16-be"),
        _TEXT.replace("\n", "\r\n").encode(),
        _TEXT.replace("\n", "\r").encode(),
    ],
    ids=["plain", "utf-8 mark", "utf-16", "utf-16 big end first", "crlf", "cr"],
)
def test_every_way_to_store_a_text_gives_the_text(data: bytes) -> None:
    source, fault = decode("x.seq", data)
    assert fault is None
    assert source.text == _TEXT


@pytest.mark.parametrize(
    ("data", "code", "words"),
    [
        (b"\x89PNG\r\n\x1a\n\x00\x00", "RW001", "x.seq is not text"),
        (b"lamp A\nlamp \xd6L\n", "RW002", "line 2 holds byte D6 (hexadecimal)"),
        (b"lamp \xd6L\n", "RW002", "perhaps Ö from an older encoding"),
        (b"a" * (LARGEST + 1), "RW003", "1,000,001 bytes"),
        (codecs.BOM_UTF32_LE + "cycle".encode("utf-32-le"), "RW001", "not text"),
        (codecs.BOM_UTF16_LE + b"a", "RW002", "UTF"),
    ],
)
def test_what_is_not_text_is_told_in_one_message(data: bytes, code: str, words: str) -> None:
    source, fault = decode("x.seq", data)
    assert source.text == ""
    assert fault is not None
    assert fault.code == code
    assert words in fault.message
