"""Which outputs are on in each step. Commanded motion persists, so that follows from every way that leads there.

Where ways meet on which an output stands differently, no step that follows could tell by itself: such an output is
*stored*, set and reset as steps are entered, in the whole chart. In parallel work an output belongs to the branch
that commands it, and to the first branch where none does.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterable
from dataclasses import dataclass

from compiler.lowering.net import Command, Draft, Link, Net, Pulse, Switch

__all__ = ["Outputs", "outputs_of_steps"]


@dataclass(frozen=True, slots=True)
class Outputs:
    """The outputs each step holds on (pulses among them), those it sets and resets, and those that are stored."""

    on: dict[str, frozenset[str]]
    sets: dict[str, frozenset[str]]
    resets: dict[str, frozenset[str]]
    stored: frozenset[str]
    left: dict[str, frozenset[str]]  # those that may be on as a step is left


@dataclass(frozen=True, slots=True)
class _State:
    """Outputs as bits: those surely on, and those that are on or off, as the way there was."""

    on: int
    unsure: int

    def meets(self, other: _State) -> _State:
        unsure = self.unsure | other.unsure | (self.on ^ other.on)
        return _State(self.on & other.on & ~unsure, unsure)


def outputs_of_steps(net: Net, names: Iterable[str]) -> Outputs:
    """The outputs of every step of a whole net; ``names`` are all there are."""
    return _Flow(net, tuple(names)).outputs()


class _Flow:
    def __init__(self, net: Net, names: tuple[str, ...]) -> None:
        self.net = net
        # A name that is not among them is at fault, which is told elsewhere: here it is no bit.
        self.bits = defaultdict[str, int](int, {name: 1 << k for k, name in enumerate(names)})
        self.owned = [tuple(self._mask(mine) for mine in branches) for branches in net.owned]
        self.before: dict[str, _State] = {}
        self.after: dict[str, _State] = {}

    def _mask(self, names: Iterable[str]) -> int:
        return sum(self.bits[name] for name in names)

    def _names(self, mask: int) -> frozenset[str]:
        return frozenset(name for name, bit in self.bits.items() if mask & bit) if mask else frozenset()

    def outputs(self) -> Outputs:
        self._spread()
        stored = 0
        for state in self.after.values():
            stored |= state.unsure
        on, sets, resets, left = {}, {}, {}, {}
        for draft in self.net.drafts.values():
            state = self.after.get(draft.id, _State(0, 0))
            set_, reset = _switched(draft.commands, self.bits)
            on[draft.id] = self._names((state.on & ~stored) | self._pulsed(draft))
            sets[draft.id], resets[draft.id] = self._names(set_ & stored), self._names(reset & stored)
            left[draft.id] = self._names(state.on | state.unsure)
        return Outputs(on, sets, resets, self._names(stored), left)

    def _spread(self) -> None:
        """Follow every way from the steps that begin with nothing on, until nothing new is found."""
        waiting = deque(d.id for d in self.net.drafts.values() if d.bare or d.id not in self.net.entering)
        for name in waiting:
            self.before[name] = _State(0, 0)
        while waiting:
            here = waiting.popleft()
            state = self._left(self.net.drafts[here], self.before[here])
            if self.after.get(here) == state:
                continue
            self.after[here] = state
            for link in self.net.leaving.get(here, ()):
                if all(source in self.after for source in link.sources):
                    waiting += self._arrive(link)

    def _arrive(self, link: Link) -> list[str]:
        """Bring what is on along a transition; gives the steps that this changes."""
        on = unsure = 0
        for source in link.sources:
            on |= self.after[source].on
            unsure |= self.after[source].unsure
        changed = []
        for k, target in enumerate(link.targets):
            if self.net.drafts[target].bare:
                continue
            mine = self._share(link, k)
            state = _State(on & mine, unsure & mine)
            known = self.before.get(target)
            state = state if known is None else known.meets(state)
            if state != known:
                self.before[target] = state
                changed.append(target)
        return changed

    def _share(self, link: Link, k: int) -> int:
        """The outputs that the k-th branch after a fork has charge of."""
        if link.fork is None:
            return -1
        owned = self.owned[link.fork]
        if k > 0:
            return owned[k]
        others = 0
        for other in owned[1:]:
            others |= other
        return ~others

    def _left(self, draft: Draft, before: _State) -> _State:
        on, off = _switched(draft.commands, self.bits)
        return _State((before.on | on) & ~off, before.unsure & ~(on | off))

    def _pulsed(self, draft: Draft) -> int:
        on = 0
        for command in draft.commands:
            if isinstance(command, Pulse):
                on = (on | self.bits[command.output]) & ~(self.bits[command.against] if command.against else 0)
        return on


def _switched(commands: Iterable[Command], bits: dict[str, int]) -> tuple[int, int]:
    """The outputs that commands leave on, and those they leave off."""
    on = off = 0
    for command in commands:
        if isinstance(command, Switch):
            bit = bits[command.output]
            on, off = (on | bit, off & ~bit) if command.on else (on & ~bit, off | bit)
    return on, off
