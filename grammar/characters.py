"""What odd characters are read as, and which deceive the eye (Unicode general categories and character names)."""

from __future__ import annotations

import unicodedata
from functools import cache

__all__ = ["BLANKS", "CLOSERS", "DASHES", "deceives_in_text", "is_hidden", "latin_for", "skeleton", "told"]

BLANKS = " \t\f\v\x1a\u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000"
"""Blanks of every width, the no-break space, and the end-of-file mark old editors leave."""
DASHES = "\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d"
"""Dashes that word processors put in place of a hyphen."""
CLOSERS = {'"': '"”“', "“": '”"', "”": '”"', "„": '“”"', "«": '»"', "»": '«"', "＂": '＂"'}
"""The quotes that open a text, and for each the quotes that may close it; the first is the usual one."""

_BIDI = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
# Letters drawn like Latin ones in most typefaces (after Unicode TR 39, shortened; from memory).
_LOOK = dict(
    zip(
        "АВЕЅІЈКМНОРСТУХаеорсухіјѕΑΒΕΖΗΙΚΜΝΟΡΤΥΧο",
        "ABESIJKMHOPCTYXaeopcyxijsABEZHIKMNOPTYXo",
        strict=True,
    )
)


def is_hidden(c: str) -> bool:
    """Whether a character shows nothing: control, format (zero-width), unassigned, line and paragraph separators."""
    return unicodedata.category(c) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp") or c == "\u115f"


def deceives_in_text(c: str) -> bool:
    """Whether a character in a text or a comment can reorder or hide what is shown (controls, bidirectional marks).

    Joiners are left alone: several scripts need them.
    """
    return c in _BIDI or (unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp") and c not in BLANKS)


@cache
def _twin(c: str) -> str:
    """The ASCII letter or digit a character looks like, or the character itself."""
    if c in _LOOK:
        return _LOOK[c]
    if c.isascii() or not unicodedata.name(c, "").startswith(("FULLWIDTH", "MATHEMATICAL")):
        return c
    plain = unicodedata.normalize("NFKC", c)
    return plain if len(plain) == 1 and plain.isascii() else c


def latin_for(word: str) -> dict[int, str]:
    """Where a word that has Latin letters holds lookalikes of others: index and the Latin letter meant.

    A word wholly of another script is left alone: it is that script's own word.
    """
    twins = {k: _twin(c) for k, c in enumerate(word) if _twin(c) != c}
    latin = any(c.isascii() and c.isalpha() for c in word)
    wide = any(unicodedata.name(word[k], "").startswith("FULLWIDTH LATIN") for k in twins)
    return twins if latin or wide else {}


def skeleton(word: str) -> str:
    """What a word looks like: two words with one skeleton can't be told apart by eye. Letter case is ignored."""
    return "".join(_twin(c) for c in unicodedata.normalize("NFC", word)).casefold()


def told(c: str) -> str:
    """A character by its code point and name, for messages."""
    name = unicodedata.name(c, "").capitalize() or "a control character"
    return f"{name} (U+{ord(c):04X})"
