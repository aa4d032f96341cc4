"""The reader: structured text in, a tree and every fault out."""

from __future__ import annotations

from grammar.deceiving import deceiving
from grammar.reading import Reading
from grammar.source import Source, Span
from grammar.structured_text.build import unit
from grammar.structured_text.check import check
from grammar.structured_text.parse import parse
from grammar.structured_text.tree import Unit

__all__ = ["read"]


def read(source: Source) -> Reading[Unit | None]:
    """The unit a text holds, with what is said of its grammar and its meaning (RW501 to RW519) in its order.

    The tree is None when the text is no function block or program at all; nothing is raised. Where the grammar
    was broken, faults of meaning are told only for what could be read.
    """
    parsed = parse(source.text)
    hidden = deceiving(source.text, parsed.told)
    if parsed.tree is None:
        return Reading(source, None, (*parsed.told, *hidden))
    tree = unit(parsed.tree)
    found = [*parsed.told, *hidden, *check(tree, parsed.lost)]
    return Reading(source, tree, tuple(sorted(found, key=lambda d: d.span or Span(0, 0))))
