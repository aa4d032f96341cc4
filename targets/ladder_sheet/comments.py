"""What a rung says about itself, as lines above it."""

from __future__ import annotations

import re
from itertools import takewhile

from grammar.rungs.tree import Comments
from targets.ladder_sheet.lettering import balanced

__all__ = ["said"]

_REFERENCES = re.compile(r"contacts of \S+: ")


def said(comments: Comments, room: float) -> list[str]:
    """A comment in lines; lines that follow one another are one text, as they were before they were broken to fit.

    Where a printed rung list says which rungs have a coil's contacts, a drawing has its references.
    """
    paragraphs = [""]
    told = takewhile(lambda line: not _REFERENCES.match(line), comments.above)
    for line in (*told, comments.beside):
        if line.strip():
            paragraphs[-1] = f"{paragraphs[-1]} {line.strip()}".lstrip()
        else:
            paragraphs.append("")
    return [line for paragraph in paragraphs for line in balanced(paragraph, room, "comment")]
