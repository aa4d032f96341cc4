"""The analysis itself: what the orders of a circuit come to, held against all coils moving at one instant."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial

from compiler.circuit import CircuitLogic, circuit_logic
from compiler.logic import Chattering, Reaction
from compiler.machine import Machine
from compiler.races.apart import Apart
from compiler.races.clocks import Clocks, RelayTimes
from compiler.races.loops import count_orders, loop, may_last
from compiler.races.motion import Motion
from compiler.races.orders import Node, Orders, explore, way_with_blink, way_without_blink, ways_to_ends
from compiler.races.parts import unsupported
from compiler.races.race import Race, RaceKind, Races
from compiler.races.stimulus import Stimulus
from compiler.races.tell import differing, happening, outcome, setting, told_moves
from compiler.races.written_out import State
from grammar.rungs.tree import Circuit

__all__ = ["LIMIT", "races"]

LIMIT = 20_000
"""The most places looked at after one stimulus: nine relays that all pass their middle position make 3**9."""

_FEW = 2_000
"""Up to so many places all orders are tried; beyond, those that differ only in what is apart are tried once."""

_TOGETHER = ("all coils move at one instant",)
_ALWAYS = ("whatever the order",)
_GRAVEST = tuple(RaceKind)
_BLINKS = {
    (False, False): ("stays off", "comes on for a moment"),
    (True, True): ("stays on", "goes off for a moment"),
    (False, True): ("comes on", "comes on, goes off for a moment and comes on again"),
    (True, False): ("goes off", "goes off, comes on for a moment and goes off again"),
}
"""An output before and after the stimulus; what it does, and what it does with a blink."""


def races(
    circuit: Circuit,
    machine: Machine,
    situations: Iterable[Stimulus],
    *,
    limit: int = LIMIT,
    times: Mapping[str, RelayTimes] | None = None,
    most: int | None = None,
    told: Callable[[str], None] = lambda _: None,
) -> Races:
    """What depends on the order in which the relays of a circuit move, in each of these situations.

    The circuit must be sound (``circuit_faults`` finds nothing). All contacts of one device move together; NO and NC
    of it never conduct at one moment. Contacts of an input that changes have broken at the stimulus; where both NO
    and NC are wired, one side makes later. Those of a timer or counter follow it in their own time. Nothing is taken
    for granted of how quick one relay is beside another, but for those that ``times`` names. More than ``limit``
    places of all parts after one stimulus are not looked at, and said to be missing; so is what is left once ``most``
    places were looked at in all. ``told`` hears what is being looked at.
    """
    reason = unsupported(circuit)
    if reason:
        return Races((), 0, 0, settled=False, why=f"not looked at: {reason}")
    search = _Search(circuit, machine, limit, times or {})
    found: dict[tuple[RaceKind, str, tuple[str, ...]], Race] = {}
    waiting = tuple(situations)
    stimuli = orders = missing = 0
    for stimulus in waiting:
        if most is not None and search.places >= most:
            break
        stimuli += 1
        told(f"trying every order: situation {stimuli} of {len(waiting)}")
        seen = search.look(stimulus)
        missing += seen is None
        orders += 0 if seen is None else seen.orders
        for race in () if seen is None else seen.races:
            key = (race.kind, race.happens, race.about)
            known = found.get(key)
            best = race if known is None or race.length < known.length else known
            found[key] = replace(best, situations=1 + (known.situations if known else 0))
    why = _why(looked=stimuli, of=len(waiting), missing=missing, limit=limit, places=search.places)
    listed = sorted(found.values(), key=lambda race: (_GRAVEST.index(race.kind), race.length, race.about))
    return Races(tuple(listed), stimuli, orders, settled=not why, why=why, timed=search.timed)


def _why(*, looked: int, of: int, missing: int, limit: int, places: int) -> str:
    """What is missing, if anything is."""
    told = []
    if looked < of:
        told.append(f"given up after {looked} of {of} situations, with {places} places looked at")
    if missing:
        told.append(f"{missing} of {looked} situations {'has' if missing == 1 else 'have'} more than {limit} places")
    return f"not settled: {'; '.join(told)}" if told else ""


@dataclass(frozen=True, slots=True)
class _Seen:
    orders: int
    races: tuple[Race, ...]


class _Search:
    """One circuit. Stimuli that leave the parts in the same places and loads as they were need one look."""

    def __init__(self, circuit: Circuit, machine: Machine, limit: int, times: Mapping[str, RelayTimes]) -> None:
        self.motion = Motion(circuit, machine)
        self.clocks = Clocks(self.motion, times)
        self.timed = bool(times)
        self.apart = {load: Apart(self.motion, load) for load in (None, *range(len(self.motion.loads)))}
        self.logic = circuit_logic(circuit, machine)
        self.limit = limit
        self.places = 0  # looked at so far
        self._known: dict[object, _Seen | None] = {}

    def look(self, stimulus: Stimulus) -> _Seen | None:
        """What one stimulus may come to, or None beyond the limit."""
        start = self.motion.start(stimulus)
        key = (start, self.motion.to_make(start, stimulus.inputs), self.motion.before(stimulus))
        if key not in self._known:
            self._known[key] = self._look(stimulus, start)
        return self._known[key]

    def _look(self, stimulus: Stimulus, start: State) -> _Seen | None:
        few = self.limit if self.timed else min(_FEW, self.limit)
        whole = self._explored(self.clocks, start, stimulus, few)

        def orders(watched: int | None = None) -> Orders | None:
            if whole is not None or self.timed:
                return whole
            return self._explored(self.apart[watched], start, stimulus, self.limit)

        case = _Case(self, stimulus, _together(self.logic, stimulus))
        found: dict[tuple[RaceKind, tuple[str, ...]], Race] = {}
        tried = orders()
        for race in case.lasting(tried) if tried else ():
            found.setdefault((race.kind, race.about), race)  # the quickest comes first
        for load in self._may_blink(tried) if tried and not found else ():
            watched = orders(load)
            if watched is None:
                return None
            found |= {(race.kind, race.about): race for race in case.hazards(watched, load)}
        return _Seen(count_orders(tried), tuple(found.values())) if tried else None

    def _explored(self, by: Clocks | Apart, start: State, stimulus: Stimulus, limit: int) -> Orders | None:
        orders = explore(by, start, stimulus.inputs, limit=limit)
        self.places += limit if orders is None else len(orders.onward)
        return orders

    def _may_blink(self, orders: Orders) -> Iterator[int]:
        """The loads that see a part that moves at all; the others do at once whatever they do."""
        moved = {k for moves in orders.onward.values() for (k, _), _ in moves}
        return (load for load, net in enumerate(self.motion.nets.loads) if net.leads & moved)


def _together(logic: CircuitLogic, stimulus: Stimulus) -> Reaction | tuple[str, ...]:
    """What the simultaneous view comes to; the coils of the loop where it never settles."""
    try:
        if stimulus.before is None:
            return logic.power_up(stimulus.inputs)
        return logic.react(stimulus.before, stimulus.inputs, stimulus.expired)
    except Chattering as chattering:
        return chattering.loop


@dataclass(frozen=True, slots=True)
class _Case:
    """A stimulus, and what the simultaneous view makes of it."""

    search: _Search
    stimulus: Stimulus
    together: Reaction | tuple[str, ...]

    @property
    def motion(self) -> Motion:
        return self.search.motion

    def lasting(self, orders: Orders) -> Iterator[Race]:
        """Outcomes that differ, from one another or from the simultaneous view, and loops."""
        ends = {end: self.motion.reaction(end[0]) for end in orders.ends}
        ways = {end: told_moves(self.motion, steps) for end, steps in ways_to_ends(orders).items()}
        listed = sorted(ends, key=lambda end: (ends[end] != self.together, len(ways[end]), end))
        knot = may_last(orders)
        agrees = bool(listed) and ends[listed[0]] == self.together
        if isinstance(self.together, Reaction) and not agrees:
            for end in listed:
                yield self._pair(_TOGETHER, self.together, ways[end], ends[end])
        else:
            for end in listed[1:]:
                yield self._pair(ways[listed[0]], ends[listed[0]], ways[end], ends[end])
        if knot is not None:
            settles = bool(listed) or isinstance(self.together, Reaction)
            first = ways[listed[0]] if listed else _TOGETHER
            yield self._endless(orders, knot, first, "it comes to rest" if settles else "it never settles")
        elif len(listed) == 1 and not isinstance(self.together, Reaction):
            comes_to = "it never settles", outcome(self.motion, ends[listed[0]], self.together)
            yield self._race(RaceKind.CRITICAL, self.together, (_TOGETHER, ways[listed[0]]), comes_to)

    def hazards(self, orders: Orders, load: int) -> Iterator[Race]:
        """A load that changes more often than it must. Only for where all orders come to one end."""
        (end,) = orders.ends
        name, was, comes = self.motion.loads[load], self.motion.before(self.stimulus)[load], self._lit(load, end)
        lit = partial(self._lit, load)
        blinking = way_with_blink(orders, lit, before=was, end=end)
        if blinking is None:
            return
        steady = way_without_blink(orders, lit, before=was, end=end)
        calm, restless = _BLINKS[was, comes]
        first = _ALWAYS if steady is None else told_moves(self.motion, steady)
        told = (f"{name} {restless if steady is None else calm}", f"{name} {restless}")
        yield self._race(RaceKind.HAZARD, (name,), (first, told_moves(self.motion, blinking)), told)

    def _lit(self, load: int, node: Node) -> bool:
        return self.motion.outputs(node[0])[load]

    def _pair(self, first: tuple[str, ...], comes_to: Reaction, second: tuple[str, ...], other: Reaction) -> Race:
        names = differing(self.motion, comes_to, other)
        told = outcome(self.motion, comes_to, names), outcome(self.motion, other, names)
        return self._race(RaceKind.CRITICAL, names, (first, second), told)

    def _endless(self, orders: Orders, knot: frozenset[Node], first: tuple[str, ...], comes_to: str) -> Race:
        to_it, round_it = loop(orders, knot)
        moving = {move[0] for node in knot for move, after in orders.onward[node] if after in knot}
        names = tuple(dict.fromkeys(self.motion.parts[k].name for k in sorted(moving)))
        lasting = (*told_moves(self.motion, to_it), *told_moves(self.motion, round_it), "so on")
        return self._race(RaceKind.ENDLESS, names, (first, lasting), (comes_to, f"{', '.join(names)} may never rest"))

    def _race(
        self,
        kind: RaceKind,
        about: tuple[str, ...],
        orders: tuple[tuple[str, ...], tuple[str, ...]],
        outcomes: tuple[str, str],
    ) -> Race:
        happens = happening(self.stimulus, self.motion, self.search.logic)
        around = setting(self.stimulus, self.motion, self.search.logic)
        return Race(self.stimulus, kind, about, happens, around, orders, outcomes)
