"""What relays that stay in tell: which step is on, and the stretches of steps through which an output is on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from compiler.chart import ActionKind, Chart
from compiler.condition import Always
from compiler.machine import Machine
from grammar.rungs.tree import Network
from targets.relay.board import Board, sustained_words, told, where
from targets.relay.listening import Listening
from targets.relay.net import Way
from targets.relay.network import WIRE, contact, nc, parallel, series
from targets.relay.renewal import Lines, reached
from targets.relay.sheet import Sheet

__all__ = ["Staying", "set_out"]


@dataclass(kw_only=True)
class Staying(Board):
    """A board of relays that stay in: a step is on while its relay is in and none of those that follow it is. The
    step of rest is on once the last relay has dropped out with all the others, for only then another start counts.

    ``behind`` tells for each step which relays seal its line in; their contacts stand before what the line feeds, so
    that it is dead at once when they drop out, and not only when the line has dropped out relay by relay.
    """

    lines: Lines
    behind: dict[str, tuple[str, ...]]

    def on(self, step: str) -> Network:
        """What conducts while a step is on."""
        station = self.net.station[step]
        if step == self.lines.rest.get(station):
            over = [self.lines.over[station]] if station in self.lines.over else []
            return series(*(nc(self.relays[name]) for name in (*self.lines.sealed(station), *over)))
        return series(contact(self.relays[step]), *self._over(self.onward(step)))

    def counts(self, step: str, *, alone: bool) -> Network:
        """The coil is dead as soon as the next relay is in, long before the next pass: a counter takes its time.
        Where the next step follows at once, the coil stays live to the end of the pass instead."""
        onward = [way for way in self.onward(step) if way.targets[0] not in self.lines.over.values()]
        at_once = alone and any(way.condition == Always() for way in onward)
        ends = () if at_once else self._over(onward)
        return series(self._rail(step), contact(self.relays[step]), *ends)

    def held(self, steps: set[str]) -> Network:
        """Conducts while any of the steps is active: a branch for each stretch of them that follow each other."""
        found: dict[Network, list[Network]] = {}
        wide = steps | self._between(steps)
        for name in sorted(wide, key=self.net.rank.__getitem__):
            if self._begins(name, wide):
                rail = self._rail(name)
                found.setdefault(rail, []).append(self._stretch(name, wide, fed=rail))
        return parallel(*(series(rail, parallel(*of)) for rail, of in found.items()))

    def _rail(self, step: str) -> Network:
        """What seals the line of a step in: its own relay, or those that may have begun the line."""
        sealed, own = self.behind.get(step, ()), self.relays.get(step, "")
        return parallel(*map(contact, (own,) if own in sealed else sealed)) if sealed else WIRE

    def commanded(self, kept: dict[str, str]) -> dict[str, Network]:
        """For each output that is ever on, the stretches of steps through which it is. Raises Unfit."""
        found: dict[str, Network] = {}
        memories = {memory.on for memory in self.net.memories}
        for output in self.chart.outputs:
            actions = [
                (step.name, action.condition)
                for step in self.chart.steps
                for action in step.actions
                if action.output == output and action.kind is ActionKind.CONTINUOUS
                if step.name in self.net.named or step.name in memories
            ]
            always = {name for name, condition in actions if condition == Always() and name not in memories}
            branches: list[Network] = [contact(kept[output])] if output in kept else []
            branches += [self.held(always)] if always else []
            for name, condition in actions:
                if name not in always:
                    held = contact(self.relays[name]) if name in memories else self.held({name})
                    branches.append(series(held, self.listening.told(condition)))
            if branches:
                found[output] = parallel(*branches)
        return found

    def _between(self, steps: set[str]) -> set[str]:
        """The added steps through which what is on in these stays on."""
        found: set[str] = set()
        lines = self.lines
        for step in reversed([step for step in self.net.steps if step.name in self.net.passing]):
            targets = [name for way in self.net.out_of[step.name] for name in way.targets]
            if targets and all(name in steps or name in found for name in targets):
                found.add(step.name)
        for name, begins in lines.renewing.items():
            led = {source for way in self.net.into[name] for source in way.sources}
            if begins in found and led <= steps | found:
                found.add(name)
        return found

    def _begins(self, name: str, wide: set[str]) -> bool:
        into = self.net.into[name]
        if name in self.lines.renewing:
            # A stretch that begins before the pass and does not end in it goes on while the pass is dropped out.
            ends = self._ends(self.lines.renewing[name], wide)
            return not self.lines.passes[name].isdisjoint(target for way in ends for target in way.targets)
        return not into or any(not self._goes_on(way, wide) for way in into)

    def _goes_on(self, way: Way, wide: set[str]) -> bool:
        """Whether a stretch goes on along a way."""
        (source, *sources), (target, *targets) = way.sources, way.targets
        alone = not sources and not targets and not self._breaks_off(way)
        return alone and source in wide and target in wide and source not in self.lines.rest.values()

    def _stretch(self, name: str, wide: set[str], *, fed: Network) -> Network:
        if name == self.lines.rest.get(self.net.station[name]):
            return self.on(name)
        if name in self.lines.over.values():
            return contact(self.relays[name])
        own = contact(self.relays[name])
        return series(*([own] if own != fed else []), *self._over(self._ends(name, wide)))

    def _ends(self, name: str, wide: set[str]) -> list[Way]:
        """The ways out of a stretch, but for those to the last relay: that drops out what seals the line."""
        over = self.lines.over.get(self.net.station[name])
        ends: dict[Way, None] = {}
        seen, waiting = {name}, [name]
        while waiting:
            for way in self.onward(waiting.pop()):
                if not self._goes_on(way, wide):
                    ends |= {way: None} if way.targets[0] != over else {}
                elif way.targets[0] not in seen:
                    seen.add(way.targets[0])
                    waiting.append(way.targets[0])
        return list(ends)

    def _over(self, ways: Iterable[Way]) -> tuple[Network, ...]:
        return tuple(nc(self.relays[way.targets[0]]) for way in ways)

    def onward(self, step: str) -> list[Way]:
        """The ways out of a step, but for faults."""
        return [way for way in self.net.out_of[step] if not self._breaks_off(way)]

    def _breaks_off(self, way: Way) -> bool:
        return way.targets[0] in self.lines.faults.get(self.net.station[way.targets[0]], ())


def set_out(machine: Machine, chart: Chart, found: Lines, *, plain: frozenset[str]) -> Staying:
    """A board with names for every relay."""
    sheet = Sheet(machine, sustained_words=sustained_words(chart))
    rest, first = set(found.rest.values()), found.first
    relays: dict[str, str] = {}
    for step in found.net.steps:
        if step.name not in rest and first[step.name] == step.name:
            prefix = "FR" if step.fault else "RR" if step.name in found.renewing else "CR"
            relays[step.name] = sheet.relay(prefix)
    relays |= {name: relays[of] for name, of in first.items() if name not in rest}
    board = Staying(
        machine,
        chart,
        found.net,
        sheet,
        relays,
        Listening(sheet, lambda condition: told(board, condition), plain, lambda places: where(board, places)),
        lines=found,
        behind={name: tuple(relays[root] for root in roots) for name, roots in _behind(found).items()},
    )
    return board


def _behind(found: Lines) -> dict[str, tuple[str, ...]]:
    """For each step, but those of rest and the last ones: the steps whose relays seal its line in."""
    behind: dict[str, tuple[str, ...]] = {}
    for station in found.rest:
        starts = found.starts.get(station, ())
        behind |= dict.fromkeys(reached(found, starts), starts)
        for name in (*found.faults.get(station, ()), *found.after_stop(station)):
            for step in reached(found, (name,)):
                behind[step] = (*behind.get(step, ()), name)
    return {name: roots for name, roots in behind.items() if name not in found.over.values()}
