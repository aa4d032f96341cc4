"""A cycle under construction: the net, where the words stand, who commands what, and ways made ready to go on."""

from __future__ import annotations

from dataclasses import dataclass, field

from compiler.chart import Words
from compiler.condition import Elapsed
from compiler.lowering.devices import Devices
from compiler.lowering.net import Exit, Net, Part, Path, Pulse, Ways, told
from grammar.sequence import tree
from grammar.source import Source, Span

__all__ = ["SHIFT_PULSE_US", "Commanded", "Work", "settled"]

SHIFT_PULSE_US = 100_000
"""A memory valve shifts on a pulse of at least 50 ms; 100 ms is the usual minimum (common practice)."""


@dataclass(frozen=True, slots=True)
class Commanded:
    """Where an output is commanded: by way of which device, in which station and branches, and the words."""

    output: str
    device: str
    station: str
    path: Path
    span: Span


@dataclass
class Work:
    """Everything that lowering a program's cycles needs at hand, and what it has found so far."""

    devices: Devices
    source: Source
    routines: dict[str, tree.Routine]
    net: Net = field(default_factory=Net)
    commanded: list[Commanded] = field(default_factory=list)
    calls: tuple[str, ...] = ()  # routines under way, the outermost first
    counting: tuple[str, ...] = ()  # counters of the repeats under way
    called: set[str] = field(default_factory=set)

    def words(self, span: Span) -> Words:
        """The words at a span, and which routine they are in."""
        text = " ".join(self.source.words(span).split())
        within = f", in {self.calls[-1]}" if self.calls else ""
        return Words(text=text + within, start=span.start, end=span.end)

    def headline(self, span: Span) -> Words:
        """The first line of the words at a span: what opens a block."""
        return self.words(self.first_line(span))

    def first_line(self, span: Span) -> Span:
        """The part of a span on its first line."""
        first = self.source.words(span).split("\n")[0].rstrip()
        return Span(span.start, span.start + len(first))

    def line(self, span: Span) -> int:
        """The line a span begins in."""
        return self.source.place(span.start).line


def settled(work: Work, ways: Ways) -> Ways:
    """The same as one way from one step with nothing pending: through a step that is passed at once, if need be.

    A memory valve that was told, and that nothing waits for, gets the pulse it needs.
    """
    if any(isinstance(command, Pulse) for command in ways.pending):
        made = work.net.step(ways, Part.WORK, told(ways.told))
        made.end = Elapsed(step=made.id, time_us=SHIFT_PULSE_US)
        return Ways((Exit((made.id,), made.end, made.words),))
    if ways.pending or len(ways.exits) != 1 or len(ways.exits[0].sources) != 1:
        return work.net.pass_through(ways)
    return ways
