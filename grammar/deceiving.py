"""Characters that hide what they do, in every language: in texts, names in quotes and comments (code RW015)."""

from __future__ import annotations

from grammar.characters import deceives_in_text, told
from grammar.diagnostic import Diagnostic, Severity
from grammar.source import Span

__all__ = ["deceiving", "hidden"]


def hidden(text: str, start: int, end: int) -> Diagnostic | None:
    """The first character in a stretch of a text that hides what it does, if there is one."""
    at = next((k for k in range(start, end) if deceives_in_text(text[k])), None)
    if at is None:
        return None
    message = f"a character that hides what it does stands here: {told(text[at])}"
    return Diagnostic("RW015", Severity.FAULT, message, Span(at, at + 1), cure="delete it")


def deceiving(text: str, already: list[Diagnostic]) -> list[Diagnostic]:
    """The first such character of each line, but for those that something was said of ``already``."""
    if not any(deceives_in_text(c) for c in set(text) - {"\n", "\r"}):
        return []
    said = {found.span.start for found in already if found.span}
    faults, start = [], 0
    for line in text.split("\n"):
        fault = hidden(text, start, start + len(line.rstrip("\r")))
        faults += [fault] if fault is not None and fault.span is not None and fault.span.start not in said else []
        start += len(line) + 1
    return faults
