"""Words of the user as the text of a comment, so that nothing in them can end it."""

from __future__ import annotations

__all__ = ["comment"]

_JOINERS = "\u200c\u200d"
"""They show nothing, but several scripts need them."""
_LONGEST = 96


def comment(words: str) -> str:
    """Words on one line, letters of every script as they are (IEC 61131-3:2013 allows any characters in comments);
    what shows nothing, or turns round what follows, becomes a question mark.

    Comment marks inside are pulled apart, since some editions nest comments and others do not.
    """
    shown = "".join(" " if c.isspace() else c if c.isprintable() or c in _JOINERS else "?" for c in words)
    line = " ".join(shown.split())
    for mark in ("(*", "*)", "/*", "*/", "//"):
        while mark in line:
            line = line.replace(mark, f"{mark[0]} {mark[1]}")
    return line if len(line) <= _LONGEST else line[: _LONGEST - 3].rstrip(" (*/)") + "..."
