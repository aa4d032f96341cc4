"""What the user gave on the command line: texts read, programs understood, and refusals."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click

if TYPE_CHECKING:
    from compiler.understand import Understood
    from grammar.source import Source

__all__ = [
    "FOUND",
    "UNSETTLED",
    "USAGE",
    "need_chart",
    "program_options",
    "read_bytes",
    "refuse",
    "source_of",
    "understood",
    "warned",
    "write_text",
]

FOUND = 1  # faults, or a difference that was not announced
USAGE = 2
UNSETTLED = 3  # a proof that was given up

Command = TypeVar("Command", bound=Callable[..., Any])


def program_options(command: Command) -> Command:
    """FILE or --text, as every command that reads a program takes them."""
    command = click.option("--text", metavar="WORDS", help="The program itself, in place of a file.")(command)
    return click.argument("file", required=False, metavar="[FILE]")(command)


def source_of(file: str | None, text: str | None, *, as_json: bool = False) -> Source:
    """The source the user means. Exits with a usage error, or with the one fault that keeps it from being read."""
    from grammar.source import Source
    from grammar.text import LARGEST, decode, normalise

    if (file is None) == (text is None):
        raise click.UsageError('give a FILE (or - for standard input), or --text "..."')
    if text is not None:
        return Source("<text>", normalise(text[:LARGEST]))
    data = sys.stdin.buffer.read(LARGEST + 1) if file == "-" else read_bytes(Path(file or ""))
    source, fault = decode("<stdin>" if file == "-" else str(file), data)
    if fault is not None:
        from targets.screen import messages_json, show_diagnostics

        if as_json:
            click.echo(messages_json((fault,), source))
        else:
            show_diagnostics((fault,), source)
        sys.exit(FOUND)
    return source


def read_bytes(path: Path) -> bytes:
    """The bytes of a file. Exits where it can't be read."""
    try:
        return path.read_bytes()
    except OSError as wrong:
        refuse(f"{path} cannot be read: {wrong.strerror}")


def write_text(path: Path, text: str) -> None:
    """Write a file, whole or not at all. Exits where it can't be written."""
    from targets.files import replace_file

    try:
        replace_file(path, text)
    except OSError as wrong:
        refuse(f"{path} cannot be written: {wrong.strerror}")


def understood(source: Source) -> Understood:
    """What a program means."""
    from compiler.understand import understand

    return understand(source)


def need_chart(program: Understood) -> None:
    """Exits with the messages where faults leave nothing to go on with."""
    if program.chart is None:
        from targets.screen import show_messages

        show_messages(program)
        sys.exit(FOUND)


def warned(program: Understood) -> bool:
    """Whether anything in it was warned of."""
    from grammar.diagnostic import Severity

    return bool(program.said(Severity.WARNING))


def refuse(why: str) -> NoReturn:
    """End with one line that says why."""
    click.echo(f"rungwright: {why}", err=True)
    sys.exit(USAGE)
