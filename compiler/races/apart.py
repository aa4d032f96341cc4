"""What has nothing to do with one another may move one after the other: fewer orders to try, the same outcomes.

From where the parts of a circuit stand some can still move. Two of them are tied when the coil of one sees a contact
of the other and does not conduct, or not, whatever the parts that may move do. Parts that are not tied, straight or
through others, can't help or hinder each other any more, so that it is enough to try the orders within one group of
tied parts and then those within the next (persistent sets: P. Godefroid 1996, from memory). Where a load is watched,
all parts are tied that it sees: what it does on the way is then the same as well. Of several loops that have nothing
to do with one another the first may be the only one found: it never leaves the next group its turn.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from compiler.logic import Bits
from compiler.proof.zone import Zone
from compiler.races.motion import Motion
from compiler.races.written_out import Move, Net, State

__all__ = ["Apart"]


class Apart:
    """The moves of one group of tied parts at a time, in the manner of ``Clocks``. Keeps no times."""

    def __init__(self, motion: Motion, watched: int | None = None) -> None:
        self._motion = motion
        self._nets = [(k, _mask(net.leads), net) for k, nets in enumerate(motion.nets.coils) for net in nets]
        self._watched = () if watched is None else (motion.nets.loads[watched],)

    def first(self, state: State, inputs: Bits) -> Zone:
        return ()

    def onward(self, state: State, zone: Zone, inputs: Bits) -> Iterator[tuple[Move, State, Zone]]:
        """The moves of the smallest group that can move now."""
        moves = self._motion.moves(state, inputs)
        group = self._group(state, {k for k, _ in moves}) if len(moves) > 1 else None
        for move in moves:
            if group is None or move[0] in group:
                yield move, self._motion.step(state, move), ()

    def _group(self, state: State, asked: set[int]) -> set[int]:
        """The smallest group of tied parts that has one that is asked to move."""
        free, loose = set(asked), _mask(asked)
        opened, closed = _contacts(state, free)
        while True:
            fresh = {
                k for k, leads, net in self._nets if k not in free and leads & loose and _ties(net, opened, closed)
            }
            if not fresh:
                break
            free |= fresh
            loose |= _mask(fresh)
            for k in fresh:
                opened[2 * k : 2 * k + 2] = False, False
                closed[2 * k : 2 * k + 2] = True, True
        ties = [
            (k, net.leads & free)
            for k, leads, net in self._nets
            if k in free and leads & loose and _ties(net, opened, closed)
        ]
        groups = [{k} for k in free]
        seen = [net.leads & free for net in self._watched if _ties(net, opened, closed)]
        for tied in (*({k, *leads} for k, leads in ties), *seen):
            met = [group for group in groups if group & tied]
            groups = [group for group in groups if not group & tied]
            if met:
                groups.append(set().union(*met))
        return min((group for group in groups if group & asked), key=lambda group: (len(group), min(group)))


def _mask(parts: Iterable[int]) -> int:
    """Parts as bits: most nets see none of those that may move, and that is soon told."""
    return sum(1 << k for k in parts)


def _contacts(state: State, free: set[int]) -> tuple[list[bool], list[bool]]:
    """Whether each part's breaking and making contacts conduct, if all contacts of free parts are open, and if all
    are closed."""
    opened, closed = [], []
    for k, place in enumerate(state):
        loose = k in free
        opened += [not loose and place == 0, not loose and place == 2]
        closed += [loose or place == 0, loose or place == 2]
    return opened, closed


def _open_ended(net: Net, opened: list[bool], closed: list[bool]) -> bool:
    """Whether it depends on the free parts that a net conducts: no contact that closes ever makes it conduct less."""
    return net.conducts is not None and bool(net.conducts(opened)) != bool(net.conducts(closed))


def _ties(net: Net, opened: list[bool], closed: list[bool]) -> bool:
    return net.conducts is None or _open_ended(net, opened, closed)
