"""The blocks of README.md that show real output: where each comes from, and putting it there.

A block stands under a comment ``<!-- from COMMAND; FIRST ... LAST -->``: it holds the command's output from the
first line that holds FIRST to the first line after it that holds LAST. Filled in by
``python -m tests.whole.readme``.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable
from pathlib import Path

from click.testing import CliRunner

from targets.command_line import main

ROOT = Path(__file__).parents[2]
BLOCK = re.compile(
    r"<!-- from (?P<command>.+?); (?P<first>.+?) \.\.\. (?P<last>.+?) -->\n```text\n(?P<held>.*?)```", re.S
)


def shown(command: str, first: str, last: str) -> str:
    """The lines of a command's output (or of a file) that a block should hold."""
    words = shlex.split(command)
    if words[0] == "rungwright":
        lines = CliRunner().invoke(main, words[1:]).output.splitlines()
    else:
        lines = (ROOT / command).read_text(encoding="utf-8").splitlines()
    start = next(k for k, line in enumerate(lines) if first in line)
    end = next(k for k, line in enumerate(lines) if k >= start and last in line)
    return "\n".join(line.rstrip() for line in lines[start : end + 1]) + "\n"


def rewritten(text: str, note: Callable[[str, str, str], None] = lambda *_: None) -> str:
    """The text with every block as it should be; ``note`` hears command, what it held, and what it should."""

    def put(block: re.Match[str]) -> str:
        should = shown(block["command"], block["first"], block["last"])
        note(block["command"], block["held"], should)
        head = block[0][: block.start("held") - block.start()]
        return f"{head}{should}```"

    return BLOCK.sub(put, text)


if __name__ == "__main__":
    readme = ROOT / "README.md"
    readme.write_text(rewritten(readme.read_text(encoding="utf-8")), encoding="utf-8")
