"""What a literal is worth: whole numbers, and times in microseconds.

IEC 61131-3:2003 Tables 4 and 7, IEC 61131-3:2013 Tables 5 and 8 (from memory). A literal that breaks a rule is
answered with a plain phrase that says which one.
"""

from __future__ import annotations

import re
from fractions import Fraction

__all__ = ["INT_GREATEST", "INT_LEAST", "duration_text", "duration_us", "integer_value"]

INT_LEAST, INT_GREATEST = -32768, 32767

_UNITS_NS = {
    "d": 86_400_000_000_000,
    "h": 3_600_000_000_000,
    "m": 60_000_000_000,
    "s": 1_000_000_000,
    "ms": 1_000_000,
    "us": 1_000,
    "ns": 1,
}
_ORDER = list(_UNITS_NS)
_DIGITS = r"\d+(?:_\d+)*"
_PART = re.compile(rf"({_DIGITS})(\.{_DIGITS})?([a-z]+)")


def duration_us(text: str) -> int | str:
    """The microseconds of a time literal such as ``T#2s500ms``, or the rule it breaks.

    Units d h m s ms us ns, largest first; only the last may have a fraction, only the first may overflow.
    """
    body = text.partition("#")[2].lower()
    sign = -1 if body.startswith("-") else 1
    body = body.removeprefix("-") if sign < 0 else body.removeprefix("+")
    parts = _parts(body)
    if isinstance(parts, str):
        return parts
    total = Fraction(0)
    for k, (whole, fraction, unit) in enumerate(parts):
        if fraction and k < len(parts) - 1:
            return "only the last unit may have a fraction"
        if k:
            before = parts[k - 1][2]
            if _ORDER.index(unit) <= _ORDER.index(before):
                return f"the units go from the largest to the smallest, each once: {unit} can't follow {before}"
            bound = _UNITS_NS[_ORDER[_ORDER.index(unit) - 1]] // _UNITS_NS[unit]
            if int(whole) >= bound:
                return f"only the first unit may be {bound} {unit} or more"
        total += Fraction(f"{whole.replace('_', '')}{fraction.replace('_', '')}") * _UNITS_NS[unit]
    in_us = total / 1000
    if in_us.denominator != 1:
        return "times are read to one microsecond, not finer"
    return sign * int(in_us)


def _parts(body: str) -> list[tuple[str, str, str]] | str:
    if len(body) > 60:
        return "it is too long for a time"
    parts: list[tuple[str, str, str]] = []
    at = 0
    while at < len(body):
        if body[at] == "_" and parts and at + 1 < len(body):
            at += 1
        found = _PART.match(body, at)
        if found is None:
            left = body[at:]
            return f"a unit is missing after {left}" if re.fullmatch(r"[\d._]+", left) else f"{left} is not a time"
        if found[3] not in _UNITS_NS:
            return f"{found[3]} is not a unit of time; the units are d h m s ms us ns"
        parts.append((found[1], found[2] or "", found[3]))
        at = found.end()
    return parts or "there is no time after #"


def duration_text(time_us: int) -> str:
    """The shortest plain time literal for that many microseconds (0 or more): ``T#1m30s``, ``T#2s500ms``."""
    out, left = "", time_us * 1000
    for unit, size in _UNITS_NS.items():
        count, left = divmod(left, size)
        if count:
            out += f"{count}{unit}"
    return f"T#{out or '0s'}"


def integer_value(text: str) -> int | str:
    """The value of ``12``, ``123_456``, ``16#FF``, ``2#1010_0001``, ``INT#-5`` or ``BOOL#1``, or what is wrong."""
    prefix, hash_sign, body = text.rpartition("#")
    typed, _, base = prefix.rpartition("#")
    if prefix and not prefix[0].isdigit() and not typed:
        typed, base = prefix, ""
    if typed and typed.upper() not in ("INT", "BOOL"):
        return f"{typed.upper()} numbers are outside the structured text read here: BOOL and INT are"
    if base and base not in ("2", "8", "16"):
        return "the base of a number is 2, 8 or 16"
    if not re.fullmatch(r"[+-]?[0-9A-Fa-f]+(?:_[0-9A-Fa-f]+)*", body):
        return "the digits of a number may be parted by single underscores only"
    try:
        value = int(body.replace("_", ""), int(base or "10")) if len(body) < 40 else 1 << 40
    except ValueError:
        return f"{body} has a digit that base {base or '10'} does not have" if hash_sign else f"{body} is no number"
    if typed.upper() == "BOOL" and value not in (0, 1):
        return "a BOOL is 0 or 1"
    return value
