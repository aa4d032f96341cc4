"""One logical line of a rung list to its node, by a LALR parser built once, when first needed."""

from __future__ import annotations

import re
from collections.abc import Collection
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from grammar.diagnostic import Diagnostic, nearest
from grammar.rungs.faults import fault
from grammar.rungs.lines import Line
from grammar.rungs.tree import (
    Comments,
    Contact,
    Device,
    Feed,
    Form,
    Kind,
    Master,
    Name,
    Network,
    Parallel,
    Preset,
    Rung,
    Series,
)
from grammar.rungs.words import SYNONYMS, UNIT_SYNONYMS, UNITS, function_of, kind_of, tell, terminal_of
from grammar.source import Span
from grammar.tables import Tables, Word

if TYPE_CHECKING:
    from lark import Lark, Token
    from lark.exceptions import UnexpectedInput

__all__ = [
    "DEPTH",
    "parse_circuit",
    "parse_counter",
    "parse_device",
    "parse_end",
    "parse_master",
    "parse_rung",
    "parse_timer",
    "start_word",
]

DEPTH = 20
_FIRST = re.compile(r'\s*("[^"]*"|[\w-]+(?: +[\w-]+)?|\S)')
_NUMBERED = re.compile(r" *[0-9.]+ *:")
_TIME = re.compile(r"([0-9.]+)(\D+)")
_BRACKETS_OR_QUOTED = re.compile(r'"[^"]*"|[()]')
_DECIMAL_COMMA = re.compile(r"[0-9]+,[0-9]+")
_FEEDS = re.compile(r'"[^"]*"|(?<![\w-])(feeds?)(?![\w-])', re.IGNORECASE)
_LATCHES = re.compile(r"(?<![\w-])((un)?latch(es)?|sets?)(?![\w-])", re.IGNORECASE)
_POSITIONS = re.compile(
    r"\s*selector( switch)? +(?P<name>[\w-]+),? +(?P<rest>(\w+[ -]+)?positions?(?![\w-])(.*\S)?)", re.IGNORECASE
)
_STARTS = ("circuit", "device", "timer", "counter", "rung", "master", "end")
_DECLARES = {Kind.TIMER: "timer", Kind.COUNTER: "counter"}

Faults = list[Diagnostic]


@cache
def parser() -> Lark:
    """The parser of single lines; see ``rungs.lark``."""
    from lark import Lark

    grammar = (Path(__file__).parent / "rungs.lark").read_text(encoding="utf-8")
    return Lark(grammar, parser="lalr", start=list(_STARTS))


@cache
def _tables() -> Tables:
    return Tables(parser(), _STARTS, _MAKERS)


def start_word(line: Line) -> str:
    """What kind of line this is: ``circuit``, ``rung``, ``master``, ``end``, ``timer``, ``counter``, ``device``, or
    empty for none of them."""
    if _NUMBERED.match(line.text):
        return "rung"
    first = _FIRST.match(line.text)
    words = first.group(1).casefold().split() if first else []
    for plain in (" ".join(words), words[0] if words else ""):
        if plain in ("circuit", "rung", "master", "end"):
            return plain
        if plain in SYNONYMS:
            return _DECLARES.get(SYNONYMS[plain], "device")
    return ""


def parse_circuit(line: Line, faults: Faults) -> str:
    """The title."""
    parts = _read(line, "circuit", faults)
    return "" if parts is None else str(parts[1].text[1:-1])


def parse_device(line: Line, faults: Faults) -> list[Device]:
    """The devices a line declares; comments go with the first."""
    positions = _POSITIONS.match(line.text)
    if positions is not None:
        name, (start, end) = positions.group("name"), positions.span("rest")
        cure = f"declare one selector for each position that closes a contact, for example '{name}-HAND, {name}-AUTO'"
        message = "a selector has two positions here, on and off"
        faults.append(fault("RW428", message, line.start + start, line.start + end, cure=cure))
        return []
    parts = _read(line, "device", faults)
    if parts is None:
        return []
    kind, span = kind_of(parts[0].text), line.span
    first, *others = (part for part in parts if isinstance(part, Name))
    return [Device(kind, first, comments=_comments(line), span=span), *(Device(kind, n, span=span) for n in others)]


def parse_timer(line: Line, faults: Faults) -> list[Device]:
    """The timer a line declares."""
    comma = _DECIMAL_COMMA.search(line.text)
    if comma is not None:
        cure = "write " + comma.group().replace(",", ".")
        span = (line.start + comma.start(), line.start + comma.end())
        faults.append(fault("RW409", "a fraction is written with a point", *span, cure=cure))
        return []
    parts = _read(line, "timer", faults)
    if parts is None:
        return []
    words = [part for part in parts if isinstance(part, Word)]
    function = function_of(next(word.text for word in words if word.type == "FUNCTION"))
    preset = _preset([word for word in words if word.type in ("NUMBER", "WORD", "TIME")], faults)
    if preset is None:
        return []
    return [Device(Kind.TIMER, _named(parts), function, preset, _comments(line), span=line.span)]


def parse_counter(line: Line, faults: Faults) -> list[Device]:
    """The counter a line declares."""
    parts = _read(line, "counter", faults)
    if parts is None:
        return []
    number = next(part for part in parts if isinstance(part, Word) and part.type == "NUMBER")
    preset = Preset(number.text, span=Span(number.start, number.end))
    name, unit = _named(parts), parts[-1]
    if unit.type == "TIME" or unit.text.casefold() in UNIT_SYNONYMS:
        cure = f"write 'counter {name.text}, preset {number.text}', or declare a timer"
        message = f"a counter counts pieces, not {unit.text}"
        faults.append(fault("RW401", message, unit.start, unit.end, cure=cure))
        return []
    return [Device(Kind.COUNTER, name, None, preset, _comments(line), span=line.span)]


def parse_master(line: Line, faults: Faults) -> Master | None:
    """The contacts a group of rungs is fed through, or None and a fault."""
    parts = _read(line, "master", faults)
    if parts is None:
        return None
    return Master(
        _flat([part for part in parts if isinstance(part, _NETWORKS)], Series), _comments(line), span=line.span
    )


def parse_end(line: Line, faults: Faults) -> Comments | None:
    """The comments of the line that ends a group, or None and a fault."""
    return None if _read(line, "end", faults) is None else _comments(line)


def parse_rung(line: Line, faults: Faults, *, after: int) -> Rung | None:
    """The rung a line holds, or None and a fault. A rung without a number follows number ``after``."""
    parts = _read(line, "rung", faults)
    if parts is None:
        return None
    number = next((part for part in parts[:2] if isinstance(part, Word) and part.type == "NUMBER"), None)
    if number is not None and ("." in number.text or len(number.text) > 9):
        faults.append(fault("RW401", "a rung has a whole number", number.start, number.end))
        return None
    span = line.span
    networks = [part for part in parts if isinstance(part, _NETWORKS)]
    return Rung(
        after + 1 if number is None else int(number.text),
        _flat(networks, Series) if networks else Series((), span=span),
        tuple([part for part in parts if isinstance(part, Feed)]),
        _comments(line),
        span=span,
    )


_NETWORKS = (Contact, Series, Parallel)
_NO_COMMENTS = Comments()


def _comments(line: Line) -> Comments:
    return Comments(tuple(line.above), line.beside) if line.above or line.beside else _NO_COMMENTS


def _named(parts: list[Any]) -> Name:
    return next(part for part in parts if isinstance(part, Name))


# --- what becomes of the rules of the grammar -----------------------------------------------------------------


def _name(parts: list[Any]) -> Name:
    (word,) = parts
    return Name(word.text[1:-1] if word.type == "QUOTED" else word.text, span=Span(word.start, word.end))


def _contact(parts: list[Any]) -> Contact:
    name = parts[0]
    if len(parts) == 1:
        return Contact(name, span=name.span)
    form = parts[1]
    span = Span(name.span.start, form.end)
    return Contact(name, Form(form.text.upper().replace(".", "")), span=span)


def _chain(parts: list[Any]) -> Network:
    return _flat(parts[::2], Series)


def _branch(parts: list[Any]) -> Network:
    return _flat(parts[::2], Parallel)


def _group(parts: list[Any]) -> Network:
    network: Network = parts[1]
    return network


def _feed(parts: list[Any]) -> Feed:
    name = parts[0]
    if len(parts) == 1:
        return Feed(name, span=name.span)
    return Feed(name, terminal_of(parts[1].text), span=Span(name.span.start, parts[1].end))


_MAKERS = {"name": _name, "contact": _contact, "chain": _chain, "branch": _branch, "group": _group, "feed": _feed}


def _flat(parts: list[Network], kind: type[Series] | type[Parallel]) -> Network:
    """Parts joined; a part of the same kind gives its own parts, so that each network has one tree only."""
    if len(parts) == 1:
        return parts[0]
    flat = [inner for part in parts for inner in (part.parts if isinstance(part, kind) else (part,))]
    return kind(tuple(flat), span=Span(parts[0].span.start, parts[-1].span.end))


def _preset(words: list[Word], faults: Faults) -> Preset | None:
    split = _TIME.fullmatch(words[0].text) if len(words) == 1 else None
    number, unit = (split.group(1), split.group(2)) if split else (words[0].text, words[-1].text)
    known = UNIT_SYNONYMS.get(unit.casefold())
    if known is None:
        close = nearest(unit, list(UNIT_SYNONYMS))
        cure = f"did you mean {UNIT_SYNONYMS[close]}?" if close else "write for example 30 s"
        at = words[-1]
        faults.append(fault("RW406", f"'{unit}' is no unit of time", at.start, at.end, expected=_units(), cure=cure))
        return None
    return Preset(number, known, span=Span(words[0].start, words[-1].end))


def _units() -> str:
    *units, last = UNITS
    return f"{', '.join(units)} or {last}"


# --- faults ---------------------------------------------------------------------------------------------------


def _read(line: Line, start: str, faults: Faults) -> list[Any] | None:
    """The parts of a line, or None and what is wrong with it."""
    parts: list[Any] | None = None
    if line.text.count("(") <= DEPTH or not _unpaired(line):
        parts = _tables().read(line.text, start, line.start)
    if parts is None:
        faults.append(_wrong(line, start))
    return parts


def _wrong(line: Line, start: str) -> Diagnostic:
    """What is wrong with a line that can't be read: its brackets, what it lacks, or the word where reading stops."""
    from lark.exceptions import UnexpectedInput

    if start in ("rung", "master") and (unpaired := _unpaired(line)):
        return unpaired
    if start == "rung" and not any(match.group(1) for match in _FEEDS.finditer(line.text)):
        coil = "KR1 latch" if _LATCHES.search(line.text) else "CR1"
        cure = f"end the rung with 'feeds' and its coil or load, for example 'feeds {coil}'"
        return fault("RW407", "this rung feeds nothing", line.span.start, line.span.end, cure=cure)
    try:
        parser().parse(line.text, start=start)
    except UnexpectedInput as unexpected:
        return _explain(unexpected, line)
    raise AssertionError(f"lark reads this, and its tables do not: {line.text}")


def _explain(unexpected: UnexpectedInput, line: Line) -> Diagnostic:
    from lark.exceptions import UnexpectedToken

    if not isinstance(unexpected, UnexpectedToken):
        at = line.start + (unexpected.pos_in_stream or 0)
        shown = line.text[at - line.start : at - line.start + 1]
        return fault("RW401", f"'{shown}' does not belong here", at, at + 1, cure=_EXAMPLE)
    token = unexpected.token
    expected = tell(set(unexpected.accepts or unexpected.expected))
    if token.type == "$END":
        end = line.span.end
        return fault("RW401", "the line ends too soon", end - 1, end, expected=expected)
    shown = str(token).strip()
    words = f"'{shown}'" if shown else "the end of this line"
    start = line.start + (token.start_pos or 0)
    cure = _cure(token, unexpected.expected, before=line.text[: start - line.start])
    return fault("RW401", f"{words} does not belong here", start, start + len(shown), expected=expected, cure=cure)


def _cure(token: Token, expected: Collection[str], *, before: str) -> str:
    """What to write instead of a word that does not follow the words ``before`` it."""
    word = str(token)
    match token.type:
        case "WORD" | "QUOTED" | "LPAR" if {"SEP", "FORM"} <= set(expected):
            if word.casefold() == "normally":
                return "write NC for normally closed, NO for normally open"
            if _NOT.search(before):
                return f"write NC after the name: {word} NC" if token.type != "LPAR" else _APART
            return "put a comma before it for series, or 'or' for a parallel branch"
        case "FORM" if "WORD" in expected:
            return f"write it after the name of the contact, for example STOP {word}"
        case "SEP" if "RPAR" in expected:
            return "within brackets write 'and' for contacts in series"
        case _:
            return ""


_APART = "write the contacts one by one: not (A or B) is A NC, B NC"
_NOT = re.compile(r"(?<![\w-])not\s*$", re.IGNORECASE)


_EXAMPLE = "write for example: rung 1: START or CR1, STOP NC, feeds CR1"


def _unpaired(line: Line) -> Diagnostic | None:
    """The bracket that has no other, or nests too deep."""
    open_at: list[int] = []
    for match in _BRACKETS_OR_QUOTED.finditer(line.text):
        at = line.start + match.start()
        if match.group() == "(":
            open_at.append(at)
            if len(open_at) > DEPTH:
                cure = "give part of the network a relay of its own"
                return fault("RW415", f"brackets nest deeper than {DEPTH}", at, at + 1, cure=cure)
        elif match.group() == ")":
            if not open_at:
                return fault("RW408", "this closing bracket has no opening one", at, at + 1, cure="take it out")
            open_at.pop()
    if open_at:
        cure = "add the closing bracket"
        return fault("RW408", "this bracket is not closed", open_at[-1], open_at[-1] + 1, cure=cure)
    return None
