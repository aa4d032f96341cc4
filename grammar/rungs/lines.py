"""A rung list cut into logical lines: comments taken off, rungs over several lines joined, odd characters reported.

Each logical line keeps the length of the stretch of source it stands for, so an offset in it is an offset in the
source.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field

from grammar.diagnostic import Diagnostic
from grammar.rungs.faults import fault, warning
from grammar.source import Span

__all__ = ["Line", "Lines", "cut"]

# A starting word and the name after it: "lamp BUSY", but not "LAMP NC" or "LAMP or CR1".
_STARTERS = re.compile(
    r"((circuit|rung|master|timer|time relay|timing relay|push ?button|selector|sensor|limit +switch|end +switch"
    r"|pressure +switch|control relay|latch(ing)? relay|bistable relay|relay|counter|solenoid|lamp|horn|motor"
    r"|contactor) +"
    r"(?!(or|and|feeds?|no|nc|notc|ncto|noto|nctc)(?![\w-]))[\w\"]|(rung|[0-9]+) *:|master *[:(])",
    re.IGNORECASE,
)
_RUNG = re.compile(r"rung(?![\w-])|[0-9]+ *:", re.IGNORECASE)
_MASTER = re.compile(r"master *(?![\w-])", re.IGNORECASE)
_END = re.compile(r"end( +master)?\s*$", re.IGNORECASE)
_JOINS_ABOVE = re.compile(r"\s*(or(?![\w-])|and(?![\w-])|\)|,)", re.IGNORECASE)
_JOINS_BELOW = re.compile(r"(\b(or|and)|\(|:|,)\s*$", re.IGNORECASE)
_CODE_END = re.compile(r'"[^"]*"|#')
_QUOTED_OR_ODD = re.compile(r'"[^"]*"|[^\w\-",:(). ]')
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff]")
_QUOTES = "“”„‟«»″"


@dataclass
class Line:
    """One logical line: its offset in the source, its text without comments and the pieces that is joined of, and its
    comments."""

    start: int
    pieces: list[str]
    above: list[str] = field(default_factory=list)
    beside: str = ""
    sound: bool = True
    end: int = 0
    text: str = ""

    @property
    def span(self) -> Span:
        """The stretch of source from the first to the last character that is not blank."""
        lead = len(self.text) - len(self.text.lstrip())
        return Span(self.start + lead, self.start + max(lead + 1, len(self.text.rstrip())))


@dataclass
class Lines:
    """The logical lines of a text, the comment lines after the last, and the comments straight after ``circuit``."""

    lines: list[Line] = field(default_factory=list)
    notes: tuple[str, ...] = ()
    below: tuple[str, ...] = ()
    diagnostics: list[Diagnostic] = field(default_factory=list)


def cut(text: str) -> Lines:
    """Cut a text into logical lines. Reports characters that have no place in a rung list, and tabs once."""
    out = Lines()
    above: list[str] = []
    under_title = False
    offset, within = 0, 0
    for raw in text.split("\n"):
        start, offset = offset, offset + len(raw) + 1
        code, comment = _uncomment(raw)
        code, sound = _clean(code, start, out.diagnostics)
        if not code.strip():
            if comment is not None:
                above.append(comment)
            elif under_title:
                out.notes, above, under_title = tuple(above), [], False
            continue
        if _goes_on(code, out.lines, within=within > 0):
            _join(out.lines[-1], code, start, sound)
            out.lines[-1].above += above + ([comment] if comment else [])
        else:
            out.lines.append(Line(start, [code], above, comment or "", sound, start + len(code)))
            under_title = code.lstrip().casefold().startswith("circuit")
            within += bool(_MASTER.match(code.lstrip())) - bool(within and _END.match(code.lstrip()))
        above = []
    if under_title:
        out.notes = tuple(above)
    else:
        out.below = tuple(above)
    for line in out.lines:
        line.text = "".join(line.pieces)
    out.diagnostics += _tabs(text)
    return out


def _tabs(text: str) -> list[Diagnostic]:
    at = text.find("\t")
    if at < 0:
        return []
    return [warning("RW410", "a tab stands for one blank here", at, at + 1, cure="indent with blanks")]


def _goes_on(code: str, lines: list[Line], *, within: bool) -> bool:
    """An indented line goes on with the rung above it, unless it starts something of its own; with a master only when
    it is plain that more must come. ``within`` the group of a master, 'end' ends the group."""
    if not lines or not code.startswith(" ") or (within and _END.match(code.lstrip())):
        return False
    first, last = lines[-1].pieces[0].lstrip(), lines[-1].pieces[-1]
    if _MASTER.match(first):
        return not last.rstrip().endswith(":") and _joins(last, code)
    return _RUNG.match(first) is not None and _STARTERS.match(code.lstrip()) is None


def _joins(last: str, code: str) -> bool:
    """Whether one line can't stand without the next."""
    return _JOINS_ABOVE.match(code) is not None or _JOINS_BELOW.search(last) is not None


def _join(line: Line, code: str, start: int, sound: bool) -> None:
    line.pieces += [(" " if _joins(line.pieces[-1], code) else "\n").ljust(start - line.end), code]
    line.end = start + len(code)
    line.sound = line.sound and sound


def _uncomment(raw: str) -> tuple[str, str | None]:
    """The code of a physical line and its comment; a # between quotes is no comment."""
    code, mark, comment = raw.partition("#")
    if not mark:
        return raw, None
    if '"' not in code:
        return code, comment.rstrip().removeprefix(" ")
    for match in _CODE_END.finditer(raw):
        if match.group() == "#":
            comment = raw[match.end() :].rstrip()
            return raw[: match.start()], comment.removeprefix(" ")
    return raw, None


def _clean(code: str, start: int, diagnostics: list[Diagnostic]) -> tuple[str, bool]:
    """The code with blanks of every sort as plain blanks; False when it holds something that can't be read."""
    if not code:
        return code, True
    code = code.replace("\t", " ").replace("\r", " ")
    faults: list[Diagnostic] = []
    if code.count('"') % 2:
        at = code.rindex('"')
        faults.append(
            fault("RW421", "a quote is not closed", start + at, start + len(code), cure='end the words with "')
        )

    def seen(match: re.Match[str]) -> str:
        words, at = match.group(), start + match.start()
        odd = _CONTROL.search(words) if words[0] == '"' else match
        if odd is None:
            return words
        if unicodedata.category(words[0]) == "Zs":
            return " "
        if not faults:
            faults.append(_odd(odd.group()[0], at + (odd.start() if odd is not match else 0)))
        return words

    code = _QUOTED_OR_ODD.sub(seen, code)
    diagnostics += faults
    return code, not faults


def _odd(char: str, at: int) -> Diagnostic:
    if char in _QUOTES:
        return fault("RW411", f"{char} is a typographic quote", at, at + 1, cure='type " instead')
    shown = f"'{char}'" if char.isprintable() else f"U+{ord(char):04X}"
    name = unicodedata.name(char, "").lower()
    told = shown if char.isascii() or not name else f"{shown} ({name})"
    cure = next((cure for chars, cure in _INSTEAD.items() if char in chars), "take it out")
    return fault("RW412", f"{told} has no place in a rung list", at, at + 1, cure=cure)


# What a sign of another notation most likely stands for.
_INSTEAD = {
    ";*'": "write # before a comment",
    "/": "write NC after the name of an NC contact, # before a comment, or a name with / in quotes",
    "!~¬": "write NC after the name of an NC contact",
    "|+∨": "write 'or' between branches side by side",
    "&∧·": "write a comma or 'and' between contacts in series",
    "[]{}": "group with ( and )",
    "=>→": "write 'feeds' before the coil or load",
}
