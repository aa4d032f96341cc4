"""Device names as structured text identifiers, and back.

A name that structured text can bear stays as it is. Any other is written ``N_...``, so that it can be read back
letter for letter and no two names become one, letter case ignored:

* digits and letters stay; letters are capitals until ``ZL`` and small ones from there until ``ZU``;
* ``ZZ`` is the letter z, and ``Z2DX`` any other character by its number in hexadecimal (here the hyphen);
* an underscore stays where it is single and inside.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable

from grammar.structured_text.reserved import is_reserved

__all__ = ["borne", "is_plain", "mangle", "mangled", "unmangle"]

_PLAIN = re.compile(r"(?:[A-Za-z]|_[A-Za-z0-9])[A-Za-z0-9]*(?:_[A-Za-z0-9]+)*")
_MARK = "N_"
# Names the emitted program keeps for its own variables; see plan.py.
_OURS = re.compile(
    r"n_.*|fb_.*|stepno|firstscan|step\d+_after_.*|sustained_\d+|.*_(?:pressed|selected|made|trig|rose|stored)",
    re.IGNORECASE,
)


def mangled(names: Iterable[str]) -> dict[str, str]:
    """The identifier of every name. Names that differ only in letter case are all escaped."""
    listed = list(dict.fromkeys(names))
    folded = [name.casefold() for name in listed]
    return {name: mangle(name, clashes=folded.count(name.casefold()) > 1) for name in listed}


def borne(devices: Iterable[str], declared: Collection[str]) -> dict[str, str]:
    """The identifier that each device has in a program, whose declared names are given with letter case folded.

    Printed programs bear the mangled name. One written by hand may bear the device's own name where structured text
    takes it though it is risky, such as S1, as long as no other device is called that, letter case ignored.
    """
    made = mangled(devices)
    folded = [name.casefold() for name in made]

    def by_hand(name: str) -> bool:
        plain = name.casefold()
        return made[name].casefold() not in declared and plain in declared and folded.count(plain) == 1

    return {name: name if by_hand(name) else identifier for name, identifier in made.items()}


def mangle(name: str, *, clashes: bool = False) -> str:
    """One name as an identifier: valid, not reserved, and none of the program's own names."""
    if not clashes and _PLAIN.fullmatch(name) and not is_reserved(name) and not _OURS.fullmatch(name):
        return name
    return _MARK + _escaped(name)


def is_plain(name: str) -> bool:
    """Whether a name is an identifier as it stands (IEC 61131-3:2003 Table 2), reserved or not."""
    return bool(_PLAIN.fullmatch(name))


def _escaped(name: str) -> str:
    out, capitals = "", True
    for k, char in enumerate(name):
        if char.isascii() and char.isalpha():
            if char.isupper() != capitals:
                capitals = not capitals
                out += "ZU" if capitals else "ZL"
            out += "ZZ" if char in "zZ" else char
        elif char.isascii() and char.isdigit():
            out += char
        elif char == "_" and out and not out.endswith("_") and k + 1 < len(name) and name[k + 1] != "_":
            out += "_"
        else:
            out += f"Z{ord(char):X}X"
    return out


def unmangle(identifier: str) -> str:
    """The name an identifier stands for. Raises ValueError for one that starts with the mark and is not ours."""
    if not identifier.upper().startswith(_MARK):
        return identifier
    return "".join(_unescaped(identifier[len(_MARK) :]))


_PIECE = re.compile(
    r"Z(?:(?P<case>[UL])|(?P<z>Z)|(?P<code>[0-9A-F]+)X)|(?P<letter>[A-Y])|(?P<same>[0-9_])", re.IGNORECASE
)


def _unescaped(text: str) -> Iterable[str]:
    capitals, at = True, 0
    while at < len(text):
        piece = _PIECE.match(text, at)
        if piece is None:
            raise ValueError(text)
        at = piece.end()
        match piece.lastgroup:
            case "case":
                capitals = piece["case"].upper() == "U"
            case "z":
                yield "Z" if capitals else "z"
            case "code":
                yield chr(int(piece["code"], 16))
            case "letter":
                yield piece["letter"].upper() if capitals else piece["letter"].lower()
            case _:
                yield piece["same"]
