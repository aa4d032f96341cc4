"""What the command line shows of messages and machines. Colour only on a terminal, never under NO_COLOR."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterable
from functools import cache
from textwrap import wrap

from rich.console import Console
from rich.text import Text

from compiler.tell import tell
from compiler.understand import Understood
from grammar.diagnostic import Diagnostic, Entry, Severity, render, to_json
from grammar.source import Source

__all__ = [
    "console",
    "heading",
    "messages_json",
    "paragraph",
    "show_diagnostics",
    "show_entries",
    "show_entry",
    "show_messages",
    "show_told",
    "write_text",
]

STYLES = {Severity.FAULT: "bold red", Severity.WARNING: "yellow", Severity.ADVICE: "cyan"}
_WIDEST = 100
_AMOUNT = re.compile(r"(?<=[0-9]) (?=(?:us|ms|s|min|h)\b)")


@cache
def console() -> Console:
    """The terminal, or whatever stands in its place; at most 100 columns are used."""
    screen = Console(highlight=False, markup=False, emoji=False)
    screen.width = min(screen.width, _WIDEST)
    return screen


def heading(words: str) -> None:
    """A line that begins a part of a report."""
    console().print()
    console().print(Text(words, style="bold"))


def show_told(understood: Understood) -> None:
    """The machine's title and what it does, in plain words; nothing where faults leave nothing to tell."""
    if understood.chart is None:
        return
    console().print(Text(understood.machine.title or "Sequence", style="bold"))
    for line in tell(understood.machine, understood.chart):
        indent = len(line) - len(line.lstrip()) + (5 if line.lstrip()[:1].isdigit() else 0)
        _wrapped(f"  {line}", 2 + indent)


def _wrapped(line: str, indent: int) -> None:
    """A line folded at the width of the screen, its continuation lines indented."""
    import textwrap

    rest = " " * indent
    for part in textwrap.wrap(line, console().width, subsequent_indent=rest, break_on_hyphens=False):
        console().print(part, soft_wrap=True)


def show_messages(understood: Understood) -> None:
    """Every message about a program, each with its words underlined, and a closing count."""
    show_diagnostics(understood.diagnostics, understood.source)
    counts = [(len(understood.said(severity)), severity) for severity in Severity]
    told = ", ".join(f"{n} {_plural(severity, n)}" for n, severity in counts if n) or "nothing to complain of"
    console().print()
    console().print(f"{understood.source.name}: {told}", soft_wrap=True)


def show_diagnostics(diagnostics: Iterable[Diagnostic], source: Source) -> None:
    """Messages, one block each."""
    for diagnostic in diagnostics:
        console().print()
        lines = render(diagnostic, source).split("\n")
        style = STYLES[diagnostic.severity]
        for number, line in enumerate(lines):
            marked = number == 0 or set(line.split("|")[-1].strip()) == {"^"}
            console().print(Text(line, style=style if marked else ""), soft_wrap=True)


def messages_json(diagnostics: Iterable[Diagnostic], source: Source) -> str:
    """Messages as a JSON list."""
    return json.dumps([to_json(diagnostic, source) for diagnostic in diagnostics], indent=2, ensure_ascii=False)


def show_entry(entry: Entry) -> None:
    """One message explained."""
    screen = console()
    screen.print(Text(f"{entry.code} ({entry.severity}): {entry.title}", style="bold"))
    screen.print()
    _wrapped(entry.why, 0)
    screen.print()
    screen.print("For example:")
    for line in entry.example.split("\n"):
        screen.print(f"    {line}", soft_wrap=True)
    screen.print()
    _wrapped(f"What to do: {entry.cure}", 0)


def show_entries(entries: Iterable[Entry]) -> None:
    """Every message in one line each."""
    for entry in entries:
        console().print(f"{entry.code}  {entry.severity:<8} {entry.title}", soft_wrap=True)


def _plural(severity: Severity, count: int) -> str:
    words = {Severity.FAULT: "faults", Severity.WARNING: "warnings", Severity.ADVICE: "pieces of advice"}
    ones = {Severity.ADVICE: "piece of advice"}
    return words[severity] if count != 1 else ones.get(severity, str(severity))


def paragraph(words: str, indent: int, style: str = "") -> None:
    """Words folded at the width of the screen."""
    margin = " " * indent
    hanging = margin + "  " if indent else ""
    kept = _AMOUNT.sub("\u00a0", words)  # a line never ends between a time and its unit
    for line in wrap(kept, console().width, initial_indent=margin, subsequent_indent=hanging, break_on_hyphens=False):
        console().print(Text(line.replace("\u00a0", " "), style=style), soft_wrap=True)


def write_text(text: str) -> None:
    """A text as it is, not folded."""
    sys.stdout.write(text)
    sys.stdout.flush()
