"""The net of steps in the making: drafts, links between them, and ways on that lead nowhere yet.

While it is built, steps go by ids (``#7``); names are given at the end (``chart_of``), where all of them are known.
What a step commands is kept as commands, not as outputs: which outputs are on in it follows from every way that
leads there, and is worked out when the net is whole (``outputs``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from compiler.chart import Words
from compiler.condition import Always, Condition, both

__all__ = [
    "Clear",
    "Command",
    "Count",
    "Draft",
    "Exit",
    "Link",
    "Net",
    "Part",
    "Path",
    "Pulse",
    "Switch",
    "Ways",
    "told",
]

Path = tuple[tuple[int, int], ...]
"""The branches of parallel work something is in, from the outermost in: number of the parallel work, branch."""


@dataclass(frozen=True, slots=True)
class Switch:
    """An output is on, or off, from here until another command says so."""

    output: str
    on: bool


@dataclass(frozen=True, slots=True)
class Pulse:
    """An output is on for this step and no longer, and ``against`` is not."""

    output: str
    against: str = ""


@dataclass(frozen=True, slots=True)
class Count:
    """One more on a counter."""

    counter: str


@dataclass(frozen=True, slots=True)
class Clear:
    """A counter goes back to 0."""

    counter: str


Command = Switch | Pulse | Count | Clear


class Part(StrEnum):
    """The part a step plays; its value begins its name."""

    WORK = "S"
    WAITING = "W"
    FAULT = "F"
    RESTING = "R"
    HOMEWARD = "H"
    MEMORY = "N"  # noted; M1 is a contactor in many a panel (common practice)


@dataclass
class Draft:
    """A step in the making. ``end`` is what ends it, where its ways on share that (Always: it is passed at once).
    ``idle``: it moves nothing, and waits for somebody or something from outside that may never come."""

    id: str
    part: Part
    station: str
    path: Path
    words: Words
    commands: list[Command] = field(default_factory=list)
    end: Condition | None = None
    fault: str = ""
    initial: bool = False
    dropped: bool = False
    idle: bool = False

    @property
    def bare(self) -> bool:
        """Whether nothing is carried into it: what was on before goes off."""
        return self.initial or self.dropped or self.part in (Part.FAULT, Part.MEMORY)

    @property
    def passing(self) -> bool:
        """Whether it is left at once."""
        return isinstance(self.end, Always)


@dataclass(eq=False)
class Link:
    """A transition in the making. ``fork`` is the number of the parallel work it starts, if it does."""

    sources: tuple[str, ...]
    targets: tuple[str, ...]
    condition: Condition
    words: Words
    fork: int | None = None


@dataclass(frozen=True, slots=True)
class Exit:
    """A way on that leads nowhere yet."""

    sources: tuple[str, ...]
    condition: Condition
    words: Words


@dataclass(frozen=True, slots=True)
class Ways:
    """Every way on from some work, and the commands given since that wait for nothing: they join the step that
    follows. ``told`` are the words of those commands, ``over`` says what comes to its end here, where that is no
    step of its own ("all branches done")."""

    exits: tuple[Exit, ...]
    pending: tuple[Command, ...] = ()
    told: tuple[Words, ...] = ()
    over: str = ""

    def only_if(self, condition: Condition, words: Words | None = None) -> Ways:
        """The same ways, open only while a condition holds as well."""
        exits = tuple(replace(e, condition=both(e.condition, condition), words=words or e.words) for e in self.exits)
        return replace(self, exits=exits)

    def and_then(self, *commands: Command) -> Ways:
        """The same ways, with further commands that wait for nothing."""
        return replace(self, pending=(*self.pending, *commands))


@dataclass
class Net:
    """The steps and transitions of every station so far. ``station`` and ``path`` say where new steps belong."""

    drafts: dict[str, Draft] = field(default_factory=dict)
    links: list[Link] = field(default_factory=list)  # one without targets has been done without
    fault_links: list[Link] = field(default_factory=list)
    counters: list[str] = field(default_factory=list)
    own_counters: list[tuple[str, str]] = field(default_factory=list)  # station and counter, of each repeat
    owned: list[tuple[frozenset[str], ...]] = field(default_factory=list)  # by parallel work: outputs of each branch
    station: str = ""
    path: Path = ()
    entering: dict[str, list[Link]] = field(default_factory=dict)
    leaving: dict[str, list[Link]] = field(default_factory=dict)
    _next: int = 0

    def draft(self, part: Part, words: Words, commands: Sequence[Command] = ()) -> Draft:
        """A new step, which nothing leads to."""
        self._next += 1
        made = Draft(f"#{self._next}", part, self.station, self.path, words, list(commands))
        self.drafts[made.id] = made
        return made

    def forget(self, id: str) -> None:
        """Do without a step that nothing leads to or from."""
        del self.drafts[id]

    def link(self, link: Link) -> Link:
        """Add a transition, after those there are."""
        self.links.append(link)
        self.enter(link)
        return link

    def enter(self, link: Link) -> None:
        """Note where a transition leads from and to."""
        for name in link.sources:
            self.leaving.setdefault(name, []).append(link)
        for name in link.targets:
            self.entering.setdefault(name, []).append(link)

    def lead(self, ways: Ways, *targets: str) -> None:
        """Tie every way to these steps. What is pending is the caller's to give them."""
        for way in ways.exits:
            self.link(Link(way.sources, targets, way.condition, way.words))

    def step(self, ways: Ways, part: Part, words: Words, commands: Sequence[Command] = ()) -> Draft:
        """A step that every way leads to; what is pending joins it."""
        made = self.draft(part, words, [*ways.pending, *commands])
        self.lead(ways, made.id)
        return made

    def pass_through(self, ways: Ways) -> Ways:
        """The ways led through one step that is left at once; what is pending is done in it."""
        last = ways.exits[-1].words
        words = told(ways.told) if ways.told else last.model_copy(update={"text": ways.over or last.text})
        made = self.step(ways, Part.WORK, words)
        made.end = Always()
        return Ways((Exit((made.id,), Always(), words),))

    def retarget(self, id: str, instead: str) -> None:
        """Let everything that leads to one step lead to another."""
        for link in self.entering.pop(id, []):
            link.targets = tuple(instead if name == id else name for name in link.targets)
            self.entering.setdefault(instead, []).append(link)

    def merge_into_next(self, id: str) -> str:
        """Do without a step that is passed at once, where exactly one step follows it and nothing else leads there:
        that one takes its commands. Gives the step that now stands in its place (itself, where it must stay)."""
        leaving = self.leaving.get(id, [])
        if len(leaving) != 1:
            return id
        (way,) = leaving
        plain = way.sources == (id,) and len(way.targets) == 1 and isinstance(way.condition, Always)
        if not plain or len(self.entering[way.targets[0]]) != 1:
            return id
        here, then = self.drafts.pop(id), self.drafts[way.targets[0]]
        way.targets = ()
        del self.leaving[id], self.entering[then.id]
        then.commands[:0] = here.commands
        self.retarget(id, then.id)
        return then.id

    def spins(self, first: str) -> bool:
        """Whether a way leads from a step back to it through steps that may all be over at once; where branches are
        joined, all of them may."""
        reached = {first} if self._may_be_over(first) else set()
        waiting = list(reached)
        while waiting:
            for link in self.leaving.get(waiting.pop(), ()):
                if not reached.issuperset(link.sources):
                    continue
                if first in link.targets:
                    return True
                found = [name for name in link.targets if name not in reached and self._may_be_over(name)]
                reached.update(found)
                waiting += found
        return False

    def _may_be_over(self, id: str) -> bool:
        """Whether a step may last no time at all."""
        return self.drafts[id].passing or self.drafts[id].part is Part.WAITING


def told(parts: Sequence[Words]) -> Words:
    """Several words as one: the commands, and not what stands between them (a comment, say)."""
    return Words(text=", ".join(w.text for w in parts), start=parts[0].start, end=parts[-1].end)
