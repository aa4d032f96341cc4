"""Every sentence of the README that can be checked is true today."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from compiler.understand import understand
from grammar.source import Source
from targets.command_line import main
from tests.whole.programs import EXAMPLES
from tests.whole.readme import ROOT, rewritten

README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_output_it_shows_is_the_output(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    stale = []
    rewritten(README, lambda command, held, should: stale.append(command) if held != should else None)
    assert not stale, "run: python -m tests.whole.readme"
    assert len(re.findall("<!-- from", README)) >= 5


def test_it_names_every_command_and_every_example() -> None:
    for name in main.commands:
        assert f"rungwright {name}" in README
    for path in EXAMPLES:
        assert f"`{Path(os.path.relpath(path, ROOT)).as_posix()}`" in README


def test_its_one_line_program_builds() -> None:
    found = re.search(r'--text "([^"]+)"', README)
    assert found
    assert understand(Source("readme", found[1])).chart is not None
