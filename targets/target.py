"""What every target is: something that emits artefacts, and reads them back where they are implementations."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from importlib.metadata import entry_points
from typing import Protocol

from compiler.chart import Chart
from compiler.checking.assumption import Assumption
from compiler.logic import Logic
from compiler.machine import Machine
from targets.choices import Letters, Standard, Style, Supply

__all__ = ["CAUTION", "Artefact", "Assumption", "Options", "Refusal", "Target", "find_targets"]

CAUTION = (
    "Caution: this is not a safety function. A competent person checks it before anything is wired or run; "
    "emergency stop, guarding, two-hand control and lockout follow local codes and licensed practice."
)


@dataclass(frozen=True, slots=True)
class Options:
    """What the user may ask of emitters. ``anti_repeat``: a held START runs one cycle only (relay). ``poles``: how
    many contacts a relay has, 0 for as many as the arrangement takes for granted (relay). The others say how its
    papers are drawn: symbols, colours of wires, what feeds the control circuit, letters of devices."""

    anti_repeat: bool = False
    arrangements: tuple[str, ...] = ()
    poles: int = 0
    symbols: Style = Style.IEC
    colours: Standard = Standard.IEC
    supply: Supply = Supply.DC
    letters: Letters = Letters.AS_NAMED


@dataclass(frozen=True, slots=True)
class Artefact:
    """A text to write.

    ``name`` is what the report calls it ("on-delay dwell rungs"), ``file`` its file name. ``implementation`` says
    that it can be read back to a Logic and checked. ``announces`` is what it needs to be the same as the
    sequence. ``parts`` counts what must be bought and wired, in reading order. ``lines`` maps a line number of
    the text (from 1) to the words of the sequence it came from. ``data`` is what to write of an artefact that is no
    text, such as a PDF; ``text`` is then empty.
    """

    target: str
    name: str
    file: str
    text: str
    implementation: bool = False
    announces: frozenset[Assumption] = frozenset()
    parts: tuple[tuple[str, int], ...] = ()
    lines: dict[int, str] = field(default_factory=dict)
    data: bytes = b""

    @property
    def content(self) -> str | bytes:
        """What the file holds."""
        return self.data or self.text


@dataclass(frozen=True, slots=True)
class Refusal:
    """An artefact that does not fit this chart, and the reason in plain words."""

    target: str
    name: str
    reason: str


class Target(Protocol):
    """A folder of targets/ exports one of these as TARGET."""

    @property
    def name(self) -> str:
        """What the user calls it, which is the name of its entry point."""
        ...

    @property
    def suffixes(self) -> tuple[str, ...]:
        """How the names of files end that it reads."""
        ...

    def emit(self, machine: Machine, chart: Chart, *, options: Options) -> Iterable[Artefact | Refusal]:
        """Everything it prints of a chart, and what of it does not fit the chart, with the reason. The
        machine is the one the chart was made for."""
        ...

    def read(self, text: str, file: str, machine: Machine) -> Logic:
        """The Logic of a printed implementation, from its text alone. Raises grammar.reading.ReadBack when it
        can't be read. Called only for artefacts marked ``implementation``."""
        ...


def find_targets() -> list[Target]:
    """Every installed target, in order of name."""
    found = sorted(entry_points(group="rungwright.targets"), key=lambda point: point.name)
    return [point.load() for point in found]
