"""What the template prints: the sequence in one of its two forms, and the whole page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from targets.controller.page import Line

__all__ = ["Branch", "Exit", "Flags", "Numbered", "Page"]


@dataclass(frozen=True, slots=True)
class Exit:
    """A condition and what is done where it holds."""

    word: str
    condition: str
    statements: tuple[str, ...]
    comment: str
    mark: str


@dataclass(frozen=True, slots=True)
class Branch:
    """An entry of the CASE: a step and the ways on from it."""

    number: int
    comment: str
    mark: str
    exits: tuple[Exit, ...]


@dataclass(frozen=True, slots=True)
class Numbered:
    """A sequence told by one step number. ``inset`` is how far a forcing condition moves the CASE in."""

    template: ClassVar[str] = "numbered.st.j2"
    sections: ClassVar[int] = 3
    forcing: Exit | None
    inset: int
    branches: tuple[Branch, ...]


@dataclass(frozen=True, slots=True)
class Flags:
    """A sequence told by a flag for each step. ``before`` keeps what some steps were; ``stored`` and ``counters``
    are what steps do as they become active or cease to be."""

    template: ClassVar[str] = "flags.st.j2"
    sections: ClassVar[int] = 4
    transitions: tuple[Line, ...]
    before: tuple[Line, ...]
    forcing: Exit | None
    inset: int
    steps: tuple[Line, ...]
    stored: tuple[Line, ...]
    counters: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Page:
    """A whole function block. ``section`` is the number of the section of outputs."""

    title: str
    caution: tuple[str, ...]
    block: str
    inputs: tuple[Line, ...]
    outputs: tuple[Line, ...]
    variables: tuple[Line, ...]
    wires: tuple[Line, ...]
    blocks: tuple[Line, ...]
    sequence: Numbered | Flags
    section: int
    loads: tuple[Line, ...]
    interlocks: tuple[Line, ...]
    edges: bool
