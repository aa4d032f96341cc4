"""One logical line of a rung list to its node, by a LALR parser built once, when first needed."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, cast

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

if TYPE_CHECKING:
    from lark import Lark, Token, Tree
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
    tree = _parse(line, "circuit", faults)
    return "" if tree is None else str(tree.children[1])[1:-1]


def parse_device(line: Line, faults: Faults) -> list[Device]:
    """The devices a line declares; comments go with the first."""
    positions = _POSITIONS.match(line.text)
    if positions is not None:
        name, span = positions.group("name"), positions.span("rest")
        cure = f"declare one selector for each position that closes a contact, for example '{name}-HAND, {name}-AUTO'"
        message = "a selector has two positions here, on and off"
        faults.append(fault("RW428", message, line.start + span[0], line.start + span[1], cure=cure))
        return []
    tree = _parse(line, "device", faults)
    if tree is None:
        return []
    kind = kind_of(str(tree.children[0]))
    names = [_name(child, line) for child in _subtrees(tree)]
    return [_commented(Device(kind, name, span=line.span), line, first=k == 0) for k, name in enumerate(names)]


def parse_timer(line: Line, faults: Faults) -> list[Device]:
    """The timer a line declares."""
    comma = _DECIMAL_COMMA.search(line.text)
    if comma is not None:
        cure = "write " + comma.group().replace(",", ".")
        span = (line.start + comma.start(), line.start + comma.end())
        faults.append(fault("RW409", "a fraction is written with a point", *span, cure=cure))
        return []
    tree = _parse(line, "timer", faults)
    if tree is None:
        return []
    tokens = [cast("Token", child) for child in tree.children if not _is_tree(child)]
    function = function_of(next(str(t) for t in tokens if t.type == "FUNCTION"))
    preset = _preset([t for t in tokens if t.type in ("NUMBER", "WORD", "TIME")], line, faults)
    if preset is None:
        return []
    name = _name(next(iter(_subtrees(tree))), line)
    return [_commented(Device(Kind.TIMER, name, function, preset, span=line.span), line, first=True)]


def parse_counter(line: Line, faults: Faults) -> list[Device]:
    """The counter a line declares."""
    tree = _parse(line, "counter", faults)
    if tree is None:
        return []
    number = next(cast("Token", child) for child in tree.children if _of_type(child, "NUMBER"))
    preset = Preset(str(number), span=Span(*_ends(number, line)))
    name = _name(next(iter(_subtrees(tree))), line)
    unit = cast("Token", tree.children[-1])
    if unit.type == "TIME" or str(unit).casefold() in UNIT_SYNONYMS:
        cure = f"write 'counter {name.text}, preset {number}', or declare a timer"
        faults.append(fault("RW401", f"a counter counts pieces, not {unit}", *_ends(unit, line), cure=cure))
        return []
    return [_commented(Device(Kind.COUNTER, name, None, preset, span=line.span), line, first=True)]


def parse_master(line: Line, faults: Faults) -> Master | None:
    """The contacts a group of rungs is fed through, or None and a fault."""
    tree = _parse(line, "master", faults) if _brackets_pair(line, faults) else None
    if tree is None:
        return None
    network = _flat([_network(child, line) for child in _subtrees(tree)], Series)
    return Master(network, Comments(tuple(line.above), line.beside), span=line.span)


def parse_end(line: Line, faults: Faults) -> Comments | None:
    """The comments of the line that ends a group, or None and a fault."""
    tree = _parse(line, "end", faults)
    return None if tree is None else Comments(tuple(line.above), line.beside)


def parse_rung(line: Line, faults: Faults, *, after: int) -> Rung | None:
    """The rung a line holds, or None and a fault. A rung without a number follows number ``after``."""
    if not _brackets_pair(line, faults):
        return None
    if not any(match.group(1) for match in _FEEDS.finditer(line.text)):
        coil = "KR1 latch" if _LATCHES.search(line.text) else "CR1"
        cure = f"end the rung with 'feeds' and its coil or load, for example 'feeds {coil}'"
        faults.append(fault("RW407", "this rung feeds nothing", line.span.start, line.span.end, cure=cure))
        return None
    tree = _parse(line, "rung", faults)
    if tree is None:
        return None
    number = next((cast("Token", child) for child in tree.children if _of_type(child, "NUMBER")), None)
    if number is not None and ("." in number or len(number) > 9):
        faults.append(fault("RW401", "a rung has a whole number", *_ends(number, line)))
        return None
    parts = [_network(child, line) for child in _subtrees(tree) if child.data == "branch"]
    feeds = tuple(_feed(child, line) for child in _subtrees(tree) if child.data == "feed")
    network = _flat(parts, Series) if parts else Series((), span=line.span)
    comments = Comments(tuple(line.above), line.beside)
    return Rung(after + 1 if number is None else int(number), network, feeds, comments, span=line.span)


# --- nodes from lark's tree -----------------------------------------------------------------------------------


def _network(tree: Tree[Token], line: Line) -> Network:
    children = [_network(child, line) for child in _subtrees(tree) if child.data != "name"]
    match str(tree.data):
        case "branch":
            return _flat(children, Parallel)
        case "chain":
            return _flat(children, Series)
        case "group":
            return children[0]
        case _:
            name = _name(next(iter(_subtrees(tree))), line)
            form = cast("Token", tree.children[-1]) if len(tree.children) > 1 else None
            if form is None:
                return Contact(name, span=name.span)
            return Contact(
                name, Form(str(form).upper().replace(".", "")), span=name.span.to(Span(*_ends(form, line)))
            )


def _flat(parts: list[Network], kind: type[Series] | type[Parallel]) -> Network:
    """Parts joined; a part of the same kind gives its own parts, so that each network has one tree only."""
    if len(parts) == 1:
        return parts[0]
    flat = [inner for part in parts for inner in (part.parts if isinstance(part, kind) else (part,))]
    return kind(tuple(flat), span=parts[0].span.to(parts[-1].span))


def _feed(tree: Tree[Token], line: Line) -> Feed:
    name = _name(next(iter(_subtrees(tree))), line)
    if len(tree.children) == 1:
        return Feed(name, span=name.span)
    token = cast("Token", tree.children[1])
    return Feed(name, terminal_of(str(token)), span=name.span.to(Span(*_ends(token, line))))


def _name(tree: Tree[Token], line: Line) -> Name:
    token = cast("Token", tree.children[0])
    words = str(token)[1:-1] if token.type == "QUOTED" else str(token)
    return Name(words, span=Span(*_ends(token, line)))


def _preset(tokens: list[Token], line: Line, faults: Faults) -> Preset | None:
    split = _TIME.fullmatch(str(tokens[0])) if len(tokens) == 1 else None
    number, unit = (split.group(1), split.group(2)) if split else (str(tokens[0]), str(tokens[-1]))
    start, end = _ends(tokens[0], line)[0], _ends(tokens[-1], line)[1]
    known = UNIT_SYNONYMS.get(unit.casefold())
    if known is None:
        close = nearest(unit, list(UNIT_SYNONYMS))
        cure = f"did you mean {UNIT_SYNONYMS[close]}?" if close else "write for example 30 s"
        at = _ends(tokens[-1], line)
        faults.append(fault("RW406", f"'{unit}' is no unit of time", *at, expected=_units(), cure=cure))
        return None
    return Preset(number, known, span=Span(start, end))


def _units() -> str:
    *units, last = UNITS
    return f"{', '.join(units)} or {last}"


def _commented(device: Device, line: Line, *, first: bool) -> Device:
    return replace(device, comments=Comments(tuple(line.above), line.beside)) if first else device


def _subtrees(tree: Tree[Token]) -> list[Tree[Token]]:
    return [cast("Tree[Token]", child) for child in tree.children if _is_tree(child)]


def _is_tree(child: object) -> bool:
    return hasattr(child, "data")


def _of_type(child: object, terminal: str) -> bool:
    return getattr(child, "type", "") == terminal


def _ends(token: Token, line: Line) -> tuple[int, int]:
    return line.start + (token.start_pos or 0), line.start + (token.end_pos or 0)


# --- faults ---------------------------------------------------------------------------------------------------


def _parse(line: Line, start: str, faults: Faults) -> Tree[Token] | None:
    from lark.exceptions import UnexpectedInput

    try:
        return parser().parse(line.text, start=start)
    except UnexpectedInput as unexpected:
        faults.append(_explain(unexpected, line))
        return None


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


def _brackets_pair(line: Line, faults: Faults) -> bool:
    open_at: list[int] = []
    for match in _BRACKETS_OR_QUOTED.finditer(line.text):
        at = line.start + match.start()
        if match.group() == "(":
            open_at.append(at)
            if len(open_at) > DEPTH:
                cure = "give part of the network a relay of its own"
                faults.append(fault("RW415", f"brackets nest deeper than {DEPTH}", at, at + 1, cure=cure))
                return False
        elif match.group() == ")":
            if not open_at:
                faults.append(
                    fault("RW408", "this closing bracket has no opening one", at, at + 1, cure="take it out")
                )
                return False
            open_at.pop()
    if open_at:
        cure = "add the closing bracket"
        faults.append(fault("RW408", "this bracket is not closed", open_at[-1], open_at[-1] + 1, cure=cure))
    return not open_at
