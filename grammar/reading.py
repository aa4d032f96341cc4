"""What a reader returns: the tree it could make, and everything it found at fault."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

from grammar.diagnostic import Diagnostic, Severity
from grammar.source import Source

__all__ = ["ReadBack", "Reading"]

Tree = TypeVar("Tree")


@dataclass(frozen=True, slots=True)
class Reading(Generic[Tree]):
    """A tree and the diagnostics met on the way. Where there are faults the tree holds what could be read."""

    source: Source
    tree: Tree
    diagnostics: tuple[Diagnostic, ...] = ()

    @property
    def sound(self) -> bool:
        """Whether the tree is the whole of what the text says: no fault among the diagnostics."""
        return not any(d.severity is Severity.FAULT for d in self.diagnostics)


class ReadBack(Exception):
    """A printed implementation that can't be read back. Carries the source and the diagnostics."""

    def __init__(self, source: Source, diagnostics: tuple[Diagnostic, ...]) -> None:
        super().__init__("; ".join(d.message for d in diagnostics))
        self.source = source
        self.diagnostics = diagnostics
