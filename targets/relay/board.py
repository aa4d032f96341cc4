"""What every chain of step relays has in common: a relay a step, contacts that tell which is on, and what sets each.

Where relays break each other, both are in while one makes the next. To all that asks, the step before is active until
its relay is out again, and only from then on the next one: where the chain asks which step is active, the NC contacts
of what came before stand in series for that reason, and all that waits for it moves at the same time.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import combinations

from compiler.chart import Chart, Step, Words
from compiler.condition import Active, And, Condition, Counted, Elapsed, Not, Or, Sustained, walk
from compiler.machine import Machine
from compiler.spoken import spans, spoken
from compiler.tell import condition_words
from grammar.rungs.tree import Master, Network, TimerFunction
from targets.relay.listening import Listening, pressed
from targets.relay.net import Memory, Net, Way
from targets.relay.network import WIRE, complement, contact, factored, nc, parallel, series
from targets.relay.sheet import Sheet, tidy

__all__ = [
    "Board",
    "coming",
    "draw_memory",
    "followed",
    "followed_on",
    "laid_out",
    "listen",
    "name_parts",
    "none_of",
    "remembered",
    "said",
    "sustained_words",
    "told",
    "told_of",
    "where",
]


@dataclass
class Board:
    """The chart as read, the names given out, and what ends each way.

    A chain may tell in its own way what conducts while the relays show a step ``on``, and while any of several steps
    is active (``held``).
    """

    machine: Machine
    chart: Chart
    net: Net
    sheet: Sheet
    relays: dict[str, str]
    listening: Listening
    ends: dict[Way, Network] = field(default_factory=dict)

    def on(self, step: str) -> Network:
        """Conducts while the relay of a step is in."""
        return contact(self.relays[step])

    def counts(self, step: str, *, alone: bool) -> Network:
        """Conducts once for each time a step that counts is entered, even after another one (unless ``alone``)."""
        over = [] if alone else [followed(self, way) for way in self.net.out_of[step]]
        return series(self.on(step), *over)

    def held(self, steps: set[str]) -> Network:
        """Conducts while any of the steps is active: its relay in, and what came before, outside them, out again."""
        branches = []
        for name in sorted(steps, key=self.net.rank.__getitem__):
            before = (source for way in self.net.into[name] for source in way.sources)
            outside = [source for source in dict.fromkeys(before) if source not in steps]
            branches.append(series(contact(self.relays[name]), none_of(self, outside)))
        return parallel(*branches)


def laid_out(machine: Machine, chart: Chart, read: Net, *, plain: frozenset[str]) -> Board:
    """A board with names for every step, time and count. Raises Unfit."""
    sheet = Sheet(machine, sustained_words=sustained_words(chart))
    relays = {step.name: sheet.relay("FR" if step.fault else "CR") for step in read.steps}
    listening = Listening(sheet, lambda c: told(board, c), plain, lambda places: where(board, places))
    board = Board(machine, chart, read, sheet, relays, listening)
    name_parts(board)
    return board


def name_parts(board: Board) -> None:
    """Names for memories, times and counts; contacts for each step and memory asked for. Raises Unfit."""
    chart, read, sheet, relays = board.chart, board.net, board.sheet, board.relays
    relays |= {memory.on: sheet.relay() for memory in read.memories}
    asked = (*(way.condition for way in read.ways), *chart.conditions[len(chart.transitions) :])
    asked += tuple(way.condition for memory in read.memories for way in (memory.sets, memory.resets))
    for part in dict.fromkeys(part for condition in asked for part in walk(condition)):
        if isinstance(part, Elapsed) and part.step in read.named:
            sheet.elapsed[part] = sheet.timer(TimerFunction.ON_DELAY, part.time_us)
        if isinstance(part, Counted):
            sheet.counted[part] = sheet.counter(part.at_least)
    for step in dict.fromkeys(p.step for condition in asked for p in walk(condition) if isinstance(p, Active)):
        if step in read.named:
            sheet.active[step] = board.held({step})
    for memory in read.memories:
        sheet.active[memory.off] = nc(relays[memory.on])
        sheet.active[memory.on] = contact(relays[memory.on])


def sustained_words(chart: Chart) -> dict[Sustained, Words]:
    """The words in which each condition that must last is first met."""
    found: dict[Sustained, Words] = {}
    for transition in chart.transitions:
        for part in walk(transition.condition):
            if isinstance(part, Sustained):
                found.setdefault(part, transition.words)
    return found


def none_of(board: Board, steps: Iterable[str]) -> Network:
    """Conducts while the relays of none of the steps are in."""
    return series(*(nc(board.relays[name]) for name in steps))


def followed(board: Board, way: Way) -> Network:
    """Opens when a way has been gone: the relays of all its targets are in."""
    return parallel(*(nc(board.relays[name]) for name in way.targets))


def told(board: Board, condition: Condition) -> Network:
    """The contacts of a condition without presses; of several steps, only the first needs what came before."""
    match condition:
        case Not(of=part):
            return complement(told(board, part))
        case And(of=parts):
            return series(*(told(board, part) for part in parts))
        case Or(of=parts):
            stepped = {p.step for p in parts if isinstance(p, Active) and p.step in board.net.named}
            others = [told(board, p) for p in parts if not (isinstance(p, Active) and p.step in stepped)]
            return parallel(*([board.held(stepped)] if stepped else []), *others)
        case _:
            return board.sheet.conducts(condition)


def listen(board: Board) -> None:
    """Gather what ends each way. Raises Unfit.

    Where a press is asked not to come, that may be the one another way waits for, so those come last.
    """
    for way in sorted(board.net.ways, key=lambda way: _asks_against(way.condition)):
        alike = _alike(board, way)
        when = factored(*(series(*(board.on(name) for name in sources)) for sources in alike))
        places = tuple(sources[0] for sources in alike)
        board.ends[way] = board.listening.ends(way.condition, when, places, way.words)


def _alike(board: Board, way: Way) -> tuple[tuple[str, ...], ...]:
    """The faults that are reset as that of a way is, or what else is its source. One relay is enough for them to see
    the button released: between any two of them it drops out, in a step that is no fault."""
    read, sources = board.net, way.sources
    if not read.named[sources[0]].fault or len(read.out_of[sources[0]]) > 1:
        return (sources,)
    found = [
        other.sources
        for other in read.ways
        if (other.condition, other.targets) == (way.condition, way.targets)
        and len(other.sources) == 1
        and len(read.out_of[other.sources[0]]) == 1
        and read.named[other.sources[0]].fault
    ]
    apart = all(not read.together(one, other) for (one,), (other,) in combinations(found, 2))
    return tuple(found) if apart and not any(read.named[name].fault for name in way.targets) else (sources,)


def where(board: Board, places: tuple[str, ...]) -> str:
    """When steps are on, by what is seen of that at the relays."""
    if not places:
        return ""
    first = places[0]
    for memory in board.net.memories:
        if memory.off == first:
            return f" while {board.relays[memory.on]} is out"
    if board.net.named[first].fault:
        return f" since {_one_of([board.relays[name] for name in places])} came in"
    return f" in step {first}"


def _asks_against(condition: Condition) -> bool:
    return any(isinstance(part, Not) and pressed(part) for part in walk(condition))


def remembered(board: Board, memory: Memory) -> Network:
    """What keeps in the relay of a memory. Raises Unfit."""
    relay = board.relays[memory.on]
    sets = board.listening.ends(memory.sets.condition, nc(relay), (memory.off,), memory.sets.words)
    resets = board.listening.told(memory.resets.condition)
    return parallel(sets, series(contact(relay), complement(resets)))


def draw_memory(board: Board, memory: Memory, network: Network, masters: tuple[Master, ...] = ()) -> None:
    """The rung of a memory."""
    relay = board.relays[memory.on]
    says = f"{relay}: {_words_of(board, memory.on) or f'it remembers {memory.on}'}, until the machine rests."
    board.sheet.rung(network, relay, says=says, words=memory.sets.words, masters=masters)


def coming(board: Board, step: Step) -> tuple[Network, ...]:
    """What picks up the relay of a step, a network for all ways into it that end alike.

    Of several that a fork sets, the first looks at the condition and the others follow it while the step before the
    fork is still in. A way is gone only when what came before its source is out again, so that a step that is over
    at once, a branch of a fork or a counter is never run ahead of.
    """
    found: dict[Network, list[Network]] = {}
    for way in board.net.into[step.name]:
        sources = [contact(board.relays[name]) for name in way.sources]
        if step.name != way.targets[0]:
            found.setdefault(WIRE, []).append(series(*sources, contact(board.relays[way.targets[0]])))
            continue
        before = dict.fromkeys(
            name
            for source in way.sources
            for led in board.net.into[source]
            for name in led.sources
            if name not in way.targets
        )
        locks = dict.fromkeys(name for source in way.sources for name in _others(board, source, way))
        net = none_of(board, dict.fromkeys((*before, *locks)))
        found.setdefault(board.ends[way], []).append(series(*sources, board.ends[way], net))
    return tuple(net for ends, nets in found.items() for net in (nets if ends == WIRE else [factored(*nets)]))


def _others(board: Board, source: str, way: Way) -> Iterable[str]:
    """The first step of every other way out of a source: once one is gone, the others are locked."""
    for other in board.net.out_of[source]:
        only = [name for name in other.targets if name not in way.targets]
        if other is not way and only:
            yield only[0]


def followed_on(board: Board, step: str, ways: Iterable[Way]) -> tuple[str, ...]:
    """What brings in the relay of a step by some ways, to be put after "It follows"; of ways gone alike, once."""
    alike: dict[str, list[str]] = {}
    for way in ways:
        sources = " and ".join(board.relays[name] for name in way.sources)
        alike.setdefault(_when(board, way, step), []).append(sources)
    return tuple(f"{_one_of(sources)}{when}" for when, sources in alike.items())


def _one_of(relays: list[str]) -> str:
    return relays[0] if len(relays) == 1 else f"one of {spans(relays)}"


def _when(board: Board, way: Way, step: str) -> str:
    if step != way.targets[0]:
        return f", together with {board.relays[way.targets[0]]}"
    if board.ends[way] == WIRE:
        return " at once"
    return f" when {said(board, way.condition)}"


def said(board: Board, condition: Condition) -> str:
    """A condition in words; what a relay remembers by whether it is in, since nobody sees such steps, and counts by
    the counter that stands for them in the circuit."""
    told = spoken(board.chart, board.machine, lambda part: condition_words(part, board.machine))(condition)
    for memory in board.net.memories:
        relay = board.relays[memory.on]
        states = {(memory.on, "active"): "in", (memory.on, "not active"): "out"}
        states |= {(memory.off, "active"): "out", (memory.off, "not active"): "in"}
        for (step, state), found in states.items():
            told = re.sub(rf"\b{step} is {state}\b", f"{relay} is {found}", told)
    for part, counter in board.sheet.counted.items():
        reached = rf"\b{re.escape(part.counter)} (has (?:not )?reached {part.at_least})\b"
        told = re.sub(reached, rf"{counter} \1", told)
    return told


def _words_of(board: Board, name: str) -> str:
    return next(tidy(step.words.text) for step in board.chart.steps if step.name == name)


def told_of(step: Step) -> str:
    """A step by its name and its words."""
    words = tidy(step.words.text)
    return f"step {step.name}" + (f" ({words})" if words else "")
