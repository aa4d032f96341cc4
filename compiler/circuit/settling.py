"""Settling a circuit: straight-line Python that looks at all coils together, round by round, until none moves.

Where there are many, coils stand in groups; a group is looked at again only when it sees a coil that moved in the
round before, so that a long chain of relays costs one look at everything and then little more than what moves.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from compiler.circuit.wiring import TABLES, Situation, State, Wiring, coils_of
from compiler.logic import Bits, Chattering
from grammar.rungs.tree import Circuit, Device, Kind

__all__ = ["Settling"]

_GROUP = 12
_ROUNDS = 32
_NONE: frozenset[int] = frozenset()
_Rounds = Callable[[State, Bits, frozenset[int], set[int], int], tuple[State, Bits | None]]


class Settling:
    """How a circuit settles, with inputs and loads in this order."""

    def __init__(self, circuit: Circuit, inputs: tuple[str, ...], loads: tuple[str, ...]) -> None:
        source = "\n".join(_source(circuit, inputs, loads))
        scope: dict[str, Any] = dict(TABLES)
        exec(compile(source, "<rung list>", "exec"), scope)  # the text is ours: names of devices never enter it
        self._rounds: _Rounds = scope["rounds"]
        self._names = tuple(device.name.text for device in coils_of(circuit))

    def settle(self, state: State, inputs: Bits, expired: frozenset[int], started: set[int]) -> Situation:
        """The situation reached from a state. Timers that start anew are added to ``started``.

        Raises Chattering when it never settles.
        """
        now, loads = self._rounds(state, inputs, expired, started, _ROUNDS)
        if loads is not None:
            return now, loads
        # So long is rare: from here on every round is remembered.
        seen: dict[State, None] = {}
        while now not in seen:
            seen[now] = None
            now, loads = self._rounds(now, inputs, _NONE, started, 1)
            if loads is not None:
                return now, loads
        rounds = list(seen)
        loop = rounds[rounds.index(now) :]
        raise Chattering(tuple(name for k, name in enumerate(self._names) if len({s[k] for s in loop}) > 1))

    def rounds(self, state: State, inputs: Bits, expired: frozenset[int]) -> Iterator[State]:
        """Every state on the way from ``state`` to the one that no coil wants to leave, a round apart. Endless where
        the circuit never settles."""
        loads: Bits | None = None
        while loads is None:
            yield state
            state, loads = self._rounds(state, inputs, expired, set(), 1)
            expired = _NONE


def _source(circuit: Circuit, inputs: tuple[str, ...], loads: tuple[str, ...]) -> Iterator[str]:
    """``rounds``: the state after at most so many rounds, and the loads if the last of them changed nothing."""
    coils = coils_of(circuit)
    variables = {name.casefold(): f"a{k}" for k, name in enumerate(inputs)}
    variables |= {device.name.text.casefold(): f"c{k}" for k, device in enumerate(coils)}
    wiring = Wiring.of(circuit, variables)
    everything = range(len(coils))
    now = _list("c", everything)
    yield "def rounds(s, i, e, started, most):"
    yield f"    {now} = s"
    yield f"    {_list('a', range(len(inputs)))} = i"
    live = f"({''.join(f'{wiring.live(name)}, ' for name in loads)})"
    if len(coils) > _GROUP:
        yield from _by_groups(wiring, coils, f"return ({now}), {live}")
        yield f"    return ({now}), None"
    else:
        yield "    for _ in range(most):"
        for k in everything:
            yield from (f"        {line}" for line in _coil(wiring, coils, k))
        yield f"        n = {_list('n', everything)}"
        yield f"        if n == s: return s, {live}"
        yield f"        s = {now} = n"
        yield "        e = ()"
        yield "    return s, None"


def _by_groups(wiring: Wiring, coils: Sequence[Device], done: str) -> Iterator[str]:
    """The rounds of many coils: ``g`` holds a bit for each group that is looked at in this round, ``w`` for each that
    must be in the next."""
    groups = [range(k, min(k + _GROUP, len(coils))) for k in range(0, len(coils), _GROUP)]
    watched = [_watched(wiring, [coils[k] for k in group]) for group in groups]
    yield f"    g = {(1 << len(groups)) - 1}"
    yield "    for _ in range(most):"
    yield "        w = 0"
    for number, group in enumerate(groups):
        yield f"        if g & {1 << number}:"
        for k in group:
            yield from (f"            {line}" for line in _coil(wiring, coils, k))
        seen_by = sum(1 << j for j, names in enumerate(watched) if names & {f"c{k}" for k in group})
        yield f"            if {' or '.join(f'n{k} != c{k}' for k in group)}: w |= {seen_by | 1 << number}"
    yield f"        if not w: {done}"
    for number, group in enumerate(groups):
        yield f"        if g & {1 << number}: {_list('c', group)} = {_list('n', group)}"
    yield "        g, e = w, ()"


def _watched(wiring: Wiring, group: Sequence[Device]) -> set[str]:
    """The variables that a group of coils looks at."""
    seen = [contact for device in group for contact in wiring.seen_by(device.name.text)]
    return {wiring.variables[contact.name.text.casefold()] for contact in seen}


def _coil(wiring: Wiring, coils: Sequence[Device], k: int) -> Iterator[str]:
    """``n``: where a coil will stand after this round."""
    clock = sum(device.kind is Kind.TIMER for device in coils[:k])
    yield f"n{k} = {wiring.following(coils[k], f'({clock} in e)')}"
    if coils[k].kind is Kind.TIMER:
        yield f"if n{k} & 1: started.add({clock})"
        yield f"n{k} >>= 1"


def _list(letter: str, numbers: Iterable[int]) -> str:
    return "".join([f"{letter}{k}, " for k in numbers]) or "()"
