"""Words of the user as the text of a comment, so that nothing in them can end it."""

from __future__ import annotations

import unicodedata

__all__ = ["comment"]

_PLAINER = str.maketrans(
    {"“": '"', "”": '"', "„": '"', "‘": "'", "’": "'", "–": "-", "—": "-", "ß": "ss", "ø": "o", "Ø": "O", "æ": "ae",
     "Æ": "AE", "ł": "l", "Ł": "L", "µ": "u", "…": "..."}
)  # fmt: skip
_LONGEST = 96


def comment(words: str) -> str:
    """Words in plain ASCII on one line: accents are dropped, what is left outside ASCII becomes a question mark.

    Comment marks inside are pulled apart, since some editions nest comments and others do not.
    """
    plain = unicodedata.normalize("NFKD", words.translate(_PLAINER))
    kept = "".join(c for c in plain if not unicodedata.combining(c))
    line = " ".join("".join(c if " " <= c <= "~" else " " if c.isspace() else "?" for c in kept).split())
    for mark in ("(*", "*)", "/*", "*/", "//"):
        while mark in line:
            line = line.replace(mark, f"{mark[0]} {mark[1]}")
    return line if len(line) <= _LONGEST else line[: _LONGEST - 3].rstrip(" (*/)") + "..."
