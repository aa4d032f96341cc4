"""How quick relays are, where it is known: it rules out orders in which a slow one would be quicker than it can be.

Each relay that is asked to move has a clock from the moment it was asked; the readings they may have together are a
zone (``compiler.proof.zone``). Whatever no times are given for may take any time at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from compiler.logic import Bits
from compiler.proof.zone import Zone, at_least, choice, delay, start, tighten
from compiler.races.motion import Motion
from compiler.races.parts import Role, folded
from compiler.races.written_out import Move, State

__all__ = ["Clocks", "RelayTimes"]


@dataclass(frozen=True, slots=True)
class RelayTimes:
    """How long a relay takes, in microseconds: from its coil being energised, or losing its current, until its first
    contact opens (least and greatest), and how long at most its contacts then are in the middle.

    Where the coil changes again on the way the contacts land on the new side within that time; where it does before
    the first contact has opened nothing has happened. IEC 61810-1 defines operate, release and transfer times (from
    memory); the figures are in data sheets.
    """

    pick_up: tuple[int, int]
    drop_out: tuple[int, int]
    middle: int

    def __post_init__(self) -> None:
        for least, greatest in (self.pick_up, self.drop_out, (0, self.middle)):
            if not 0 <= least <= greatest:
                raise ValueError("a relay's times are least and greatest, none below nought")


class Clocks:
    """The times of the relays of one circuit, by name, letter case ignored. Where none are given, none are kept."""

    def __init__(self, motion: Motion, times: Mapping[str, RelayTimes]) -> None:
        given = {name.casefold(): each for name, each in times.items()}
        self._motion = motion
        self._times = {
            k: given[folded(part.device)]
            for k, part in enumerate(motion.parts)
            if part.role is Role.RELAY and folded(part.device) in given
        }

    def first(self, state: State, inputs: Bits) -> Zone:
        """All that is asked in the first state is asked at the stimulus."""
        return start(len(self._asked(self._motion.moves(state, inputs)))) if self._times else ()

    def onward(self, state: State, zone: Zone, inputs: Bits) -> Iterator[tuple[Move, State, Zone]]:
        """Every move there is time for, and the state and clocks straight after it."""
        moves = self._motion.moves(state, inputs)
        if not self._times:
            for move in moves:
                yield move, self._motion.step(state, move), ()
            return
        asked = self._asked(moves)
        limits = [(n, self._limits(state, move)[1]) for n, move in enumerate(asked, start=1)]
        waited = delay(zone, len(asked) + 1, limits)
        assert waited is not None, "a relay has been asked for longer than it takes"
        for move in moves:
            in_time: Zone | None = waited
            if move in asked:
                clock, least = asked.index(move) + 1, self._limits(state, move)[0]
                in_time = tighten(waited, len(asked) + 1, 0, clock, at_least(least))
            if in_time is not None:
                following = self._motion.step(state, move)
                still = self._asked(self._motion.moves(following, inputs))
                kept = [asked.index(other) + 1 if other in asked else 0 for other in still]
                yield move, following, choice(kept, len(asked) + 1)(in_time)

    def _asked(self, moves: list[Move]) -> list[Move]:
        return [move for move in moves if move[0] in self._times]

    def _limits(self, state: State, move: Move) -> tuple[int, int]:
        """The least and greatest time of a move from when it is asked. With one form of contact wired the middle
        can't be seen, and the move may be that of either contact."""
        k, value = move
        times = self._times[k]
        if state[k] == 1:
            return 0, times.middle
        least, greatest = times.pick_up if state[k] == 0 else times.drop_out
        return least, greatest + (times.middle if value != 1 else 0)
