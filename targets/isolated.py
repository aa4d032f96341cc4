"""Names written from right to left, kept apart from the words of a page."""

from __future__ import annotations

import re

__all__ = ["isolated"]

_LETTER = "[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff]"  # Hebrew, Arabic and their neighbours
_RIGHT_TO_LEFT = re.compile(rf"\w*{_LETTER}\w*(?:[ '-]+\w*{_LETTER}\w*)*")
_LEFT_AS_IT_IS = re.compile(r"(<svg.*?</svg>|<[^>]*>)", re.DOTALL)  # all signs like these in texts are escaped


def isolated(html: str) -> str:
    """The same with every name that is written from right to left kept apart from the words round it, which would
    otherwise change places with it (Unicode Standard Annex 9). In drawings every text is by itself."""
    if not re.search(_LETTER, html):
        return html
    head, body = html.split("<body>", 1)
    pieces = _LEFT_AS_IT_IS.split(body)  # texts and what is none in turn
    pieces[::2] = [_RIGHT_TO_LEFT.sub(r"<bdi>\g<0></bdi>", text) for text in pieces[::2]]
    return head + "<body>" + "".join(pieces)
