"""Programs that come back unchanged, and pairs of what was written and what it should become, both read by eye."""

from __future__ import annotations

from pathlib import Path

import pytest

from grammar.sequence.write import format_text
from grammar.source import Source

_FOLDER = Path(__file__).parent / "fixtures"


def _cases(name: str) -> list[str]:
    """The cases of a file: what follows its first line, parted by lines of dashes."""
    _, body = (_FOLDER / name).read_text(encoding="utf-8").split("\n", 1)
    return body.split("\n----\n")


@pytest.mark.parametrize("text", _cases("unchanged.seq"))
def test_a_tidy_program_comes_back_unchanged(text: str) -> None:
    text = text.rstrip("\n") + "\n"
    assert format_text(Source("<fixture>", text)) == (text, ())


@pytest.mark.parametrize("case", _cases("tidied.seq"))
def test_an_untidy_program_is_tidied(case: str) -> None:
    given, wanted = case.split("\n====\n")
    text, found = format_text(Source("<fixture>", given))
    if wanted.strip() == "FAULT":
        assert found
        assert text == given
        return
    assert text.rstrip("\n") == wanted.rstrip("\n"), found
    assert format_text(Source("<fixture>", text)) == (text, ())
