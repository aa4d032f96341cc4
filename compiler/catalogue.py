"""Every message Rungwright can give, by code, gathered from the layers that give them."""

from __future__ import annotations

from functools import cache
from importlib import import_module

from grammar.diagnostic import Entry

__all__ = ["entries"]

_HOLDERS = (
    "grammar.faults",
    "grammar.sequence.faults",
    "compiler.faults",
    "grammar.rungs.faults",
    "grammar.structured_text.faults",
    "grammar.sfc.faults",
)


@cache
def entries() -> dict[str, Entry]:
    """The entries of all layers by code, in order of code."""
    found = [entry for holder in _HOLDERS for entry in import_module(holder).ENTRIES]
    return {entry.code: entry for entry in sorted(found, key=lambda entry: entry.code)}
