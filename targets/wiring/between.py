"""What lies between two points of a net of contacts, as series and parallel again.

Only contacts on a way from one point to the other count; what merely hangs on such a way leads nowhere. These ways
lie in the blocks between the two points (R. Tarjan, "Depth-first search and linear graph algorithms", 1972). Each
block is put together by joining what is in series and side by side until one piece is left (R. J. Duffin, "Topology
of series-parallel networks", 1965).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from grammar.rungs.tree import Contact, Network, Parallel, Series

__all__ = ["Bridge", "Joined", "Net"]

Joined = tuple[int, int, Contact]
"""A contact and the two points it stands between."""


class Bridge(Exception):
    """Contacts that are neither in series nor side by side: no rung is wired so."""

    def __init__(self, contacts: Sequence[Contact]) -> None:
        super().__init__(", ".join(sorted({c.name.text for c in contacts})))


@dataclass
class Net:
    """Contacts between points, seen from the point ``start``."""

    joined: Sequence[Joined]
    start: int
    _entry: dict[int, int] = field(default_factory=dict)
    _block: dict[int, list[Joined]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for entry, block in _blocks(self.joined, self.start):
            for a, b, _ in block:
                for point in (a, b):
                    if point != entry:
                        self._entry[point], self._block[point] = entry, block

    def to(self, point: int) -> Network | None:
        """What lies between the start and a point; None when no way leads there. Raises Bridge."""
        parts: list[Network] = []
        while point != self.start:
            if point not in self._entry:
                return None
            entry = self._entry[point]
            parts.insert(0, _one(self._block[point], entry, point))
            point = entry
        return _series(parts)


def _blocks(joined: Sequence[Joined], start: int) -> Iterator[tuple[int, list[Joined]]]:
    """Every block that can be reached, and its point nearest to the start."""
    at: dict[int, list[int]] = defaultdict(list)
    for k, (a, b, _) in enumerate(joined):
        at[a].append(k)
        at[b].append(k)
    order = {start: 0}
    low = {start: 0}
    used: set[int] = set()
    pile: list[int] = []
    path = [(start, 0, iter(at[start]))]  # a point, what lay on the pile before the contact that led to it, the rest
    while path:
        point, below, rest = path[-1]
        edge = next((k for k in rest if k not in used), None)
        if edge is None:
            path.pop()
            if path:
                before = path[-1][0]
                low[before] = min(low[before], low[point])
                if low[point] >= order[before]:
                    yield before, [joined[k] for k in pile[below:]]
                    del pile[below:]
            continue
        used.add(edge)
        other = sum(joined[edge][:2]) - point
        if other in order:
            low[point] = min(low[point], order[other])
        else:
            order[other] = low[other] = len(order)
            path.append((other, len(pile), iter(at[other])))
        pile.append(edge)


def _one(block: Sequence[Joined], start: int, end: int) -> Network:
    """The one piece that a block is between two of its points."""
    beside: dict[int, dict[int, Network]] = defaultdict(dict)
    for a, b, one in block:
        _join(beside, a, b, one)
    waiting = list(beside)
    while waiting:
        point = waiting.pop()
        if point in (start, end) or len(beside.get(point, ())) != 2:
            continue
        (a, before), (b, after) = beside.pop(point).items()
        del beside[a][point], beside[b][point]
        _join(beside, a, b, _series([_turned(before), after]))
        waiting += [a, b]
    if set(beside) != {start, end}:
        raise Bridge([one for _, _, one in block])
    return beside[start][end]


def _join(beside: dict[int, dict[int, Network]], a: int, b: int, network: Network) -> None:
    """Puts a network between two points, side by side with what is there. What is kept at a point starts there."""
    there = beside[a].get(b)
    both = network if there is None else _parallel([there, network])
    beside[a][b], beside[b][a] = both, _turned(both)


def _turned(network: Network) -> Network:
    """The same, seen from its other end."""
    match network:
        case Contact():
            return network
        case Series(parts=parts):
            return Series(tuple(_turned(part) for part in reversed(parts)))
        case Parallel(parts=parts):
            return Parallel(tuple(_turned(part) for part in parts))


def _series(parts: Sequence[Network]) -> Network:
    flat = tuple(one for part in parts for one in (part.parts if isinstance(part, Series) else (part,)))
    return flat[0] if len(flat) == 1 else Series(flat)


def _parallel(parts: Sequence[Network]) -> Network:
    flat = tuple(one for part in parts for one in (part.parts if isinstance(part, Parallel) else (part,)))
    return Parallel(flat)
