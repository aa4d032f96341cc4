"""The lines of a page, and the marks that lead each line back to its words while the text is laid out."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from compiler.chart import Words

__all__ = ["WIDTH", "Line", "Marks", "gathered", "unmarked", "wrapped"]

WIDTH = 110
# Marks a line with the words it came from while the text is laid out; no comment or name can hold it.
_MARK = re.compile("\0(\\d+)\0")


@dataclass(frozen=True, slots=True)
class Line:
    """One statement or declaration with its comment and the mark of the words behind it, or a comment alone."""

    text: str
    comment: str = ""
    mark: str = ""

    @property
    def printed(self) -> str:
        """The text, its comment behind it, and the mark on every line of it."""
        said = f"{'  ' if self.text else ''}(* {self.comment} *)" if self.comment else ""
        return "\n".join(f"{line}{self.mark}" for line in f"{self.text}{said}".split("\n"))


class Marks:
    """The words of each mark given out."""

    def __init__(self) -> None:
        self.words: list[str] = []

    def mark(self, words: Words) -> str:
        """A mark for these words; empty where there are none."""
        if not words.text:
            return ""
        self.words.append(words.text)
        return f"\0{len(self.words) - 1}\0"


def unmarked(text: str, marks: Marks) -> tuple[str, dict[int, str]]:
    """The text without its marks, and the words behind each line (numbered from 1) that had one."""
    lines: dict[int, str] = {}
    for number, line in enumerate(text.split("\n"), 1):
        found = _MARK.search(line)
        if found:
            lines[number] = marks.words[int(found[1])]
    return _MARK.sub("", text), lines


def wrapped(text: str, indent: int) -> str:
    """A statement that stands so far in, on as many lines as it needs."""
    lines = textwrap.wrap(text, WIDTH - indent, break_long_words=False, break_on_hyphens=False)
    return f"\n{' ' * (indent + 4)}".join(lines)


def gathered(statements: Sequence[str], indent: int) -> tuple[str, ...]:
    """Short statements, as many on a line as fit."""
    lines: list[str] = []
    for statement in statements:
        if lines and indent + len(lines[-1]) + 1 + len(statement) <= WIDTH:
            lines[-1] += f" {statement}"
        else:
            lines.append(statement)
    return tuple(lines)
