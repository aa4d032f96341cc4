"""The walk-through as data: sections of passages of sentences, each with what it tells of."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from compiler.walk.changes import Fact, Held, Sealed

__all__ = ["Level", "Passage", "Section", "Sentence", "Told"]


class Level(StrEnum):
    """How much is told: every change with its cause, or one sentence a moment."""

    SHORT = "short"
    FULL = "full"


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence. ``rungs`` are those it speaks of; ``facts`` what it tells of the run, each told once."""

    text: str
    rungs: tuple[int, ...] = ()
    facts: tuple[Fact | Sealed | Held, ...] = ()


@dataclass(frozen=True, slots=True)
class Passage:
    """What belongs to one moment of the cycle (``at_us``), or to one thing of another kind (None), which may be best
    looked at beside a moment of the cycle (``see_us``). ``timed`` tells that the heading is a moment."""

    sentences: tuple[Sentence, ...]
    at_us: int | None = None
    heading: str = ""
    see_us: int | None = None
    timed: bool = False

    @property
    def moment_us(self) -> int | None:
        """The moment of the cycle to link to."""
        return self.see_us if self.at_us is None else self.at_us

    @property
    def in_margin(self) -> bool:
        """Whether the heading stands in the margin, as moments do."""
        return self.timed or self.at_us is not None


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the walk-through. ``opening`` stands above its passages."""

    title: str
    passages: tuple[Passage, ...]
    opening: str = ""


@dataclass(frozen=True, slots=True)
class Told:
    """A whole walk-through: of which machine, by what it is driven, and its rungs as written, to link to."""

    title: str
    driver: str
    level: Level
    sections: tuple[Section, ...]
    rungs: tuple[tuple[int, str], ...]
    caution: str
