"""How the sizes of a machine are shown: tables of 80 columns, and JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator
from decimal import Decimal
from textwrap import wrap

from compiler.physics.figure import Figure, Part, Source, System
from compiler.understand import Understood
from grammar.diagnostic import Diagnostic, to_json
from targets.target import CAUTION

__all__ = ["sizes_json", "sizes_text"]

_WIDTH = 80
_NAME, _VALUE, _LIMITS, _LETTER = 24, 12, 17, 3
_HOW = _WIDTH - _NAME - _VALUE - _LIMITS - _LETTER
_DIGITS = 4


def sizes_text(program: Understood, parts: tuple[Part, ...], system: System) -> str:
    """The report as text: for each thing a table of number, limits and how it was got, then the sources by letter."""
    letters = _letters(parts)
    title = program.machine.title or "Sequence"
    lines = [f"{title}: sizes in {'US' if system is System.US else 'SI'} units", ""]
    for part in parts:
        lines += [part.title]
        for figure in part.figures:
            lines += _row(figure, letters[figure.source], system)
        for leg in part.path:
            shown = f"{digits(leg.number(system)[0])} s"
            lines += _folded(leg.name, " " * 14, f"  {shown:>10}  ")
        lines += [line for remark in part.remarks for line in _folded(remark, "  ")]
        lines.append("")
    lines += [line for source, letter in letters.items() for line in _folded(f"{letter}  {source}", "   ", "")]
    lines += ["", *_folded(CAUTION, "", "")]
    return "\n".join(lines) + "\n"


def _letters(parts: tuple[Part, ...]) -> dict[Source, str]:
    """The sources that are used, each with a letter, in the order of their first use."""
    used = dict.fromkeys(figure.source for part in parts for figure in part.figures)
    return {source: chr(ord("a") + number) for number, source in enumerate(used)}


def _row(figure: Figure, letter: str, system: System) -> Iterator[str]:
    value, low, high = figure.number(system)
    unit = figure.unit(system)[1]
    shown = f"{digits(value)} {unit}".rstrip()
    apart = low is not None and high is not None and digits(low) != digits(high)
    limits = f"{digits(low)} to {digits(high)}" if apart and low is not None and high is not None else ""
    how = wrap(figure.how, _HOW, break_on_hyphens=False)
    yield f"  {figure.name:<{_NAME - 2}}{shown:<{_VALUE}}{limits:<{_LIMITS}}{letter:<{_LETTER}}{how[0]}"
    for more in how[1:]:
        yield " " * (_WIDTH - _HOW) + more


def _folded(words: str, indent: str, first: str | None = None) -> list[str]:
    start = indent if first is None else first
    return wrap(words, _WIDTH, initial_indent=start, subsequent_indent=indent, break_on_hyphens=False)


def digits(value: float) -> str:
    """A number to four digits, never in powers of ten: 1963, 19630, 0.2804."""
    if not value:
        return "0"
    exact = Decimal(value)
    rounded = round(exact, _DIGITS - 1 - exact.adjusted())
    text = f"{rounded:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def sizes_json(program: Understood, parts: tuple[Part, ...], system: System) -> str:
    """The same as JSON, with every digit and the messages of the program."""
    made = {
        "caution": CAUTION,
        "machine": program.machine.title,
        "units": str(system),
        "parts": [
            {
                "title": part.title,
                "figures": [_figure(figure, system) for figure in part.figures],
                "path": [_figure(leg, system) for leg in part.path],
                "remarks": list(part.remarks),
            }
            for part in parts
        ],
        "messages": [to_json(message, program.source) for message in _messages(program)],
    }
    return json.dumps(made, indent=2, ensure_ascii=False)


def _figure(figure: Figure, system: System) -> dict[str, object]:
    value, low, high = figure.number(system)
    return {
        "name": figure.name.strip(),
        "value": value,
        "unit": figure.unit(system)[1],
        "least": low,
        "greatest": high,
        "how": figure.how,
        "source": str(figure.source),
    }


def _messages(program: Understood) -> list[Diagnostic]:
    """What is questionable about sizes and times."""
    return [message for message in program.diagnostics if message.code in SIZE_CODES]


SIZE_CODES = frozenset({"RW311", "RW315", "RW351", "RW352", "RW353", "RW354", "RW355", "RW356", "RW357"})
"""The messages that speak of sizes and times of strokes."""
