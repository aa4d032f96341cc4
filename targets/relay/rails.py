"""The rails that step relays are fed from: behind the master, and behind the faults that break a station off."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from compiler.condition import And, Condition, Elapsed, Not, Or, Rise, Signal, Sustained, walk
from grammar.rungs.tree import Comments, Master, Network
from targets.relay.board import Board, none_of
from targets.relay.net import Way
from targets.relay.network import WIRE, Unfit, complement, contact, nc, parallel
from targets.relay.start import runs

__all__ = ["Rails", "laid", "stop", "stops_plainly"]

_FEW = 2  # steps that a fault breaks off by a contact of its own each; more stand behind a master


@dataclass(frozen=True, slots=True)
class Rails:
    """``master`` is in once every station rests, and while ``run`` conducts. ``forcing`` is the relay of a stop that
    leads to steps of its own, picked up by ``force``; nothing where dropping out everything is all that a stop does.
    Either way ``free`` conducts while nothing stops the machine.

    ``above`` are the masters of every step but those ``at_once``; ``broken`` are the steps behind the faults of their
    station, too, by their names.
    """

    master: str
    run: Network
    free: Network
    forcing: str
    force: Network
    above: tuple[Master, ...]
    broken: dict[str, Master]
    at_once: frozenset[str] = field(default_factory=frozenset)

    def of(self, steps: Iterable[str]) -> tuple[Master, ...]:
        """The masters of a rung that is about all of these steps, none where one of them is there without masters."""
        names = set(steps)
        if names & self.at_once:
            return ()
        inner = {self.broken.get(name) for name in sorted(names)}
        only = next(iter(inner)) if len(inner) == 1 else None
        return self.above if only is None else (*self.above, only)

    def lasting(self, steps: Iterable[str]) -> tuple[Master, ...]:
        """The masters of a rung that outlives these steps: a fault that breaks them off leaves it as it is."""
        return () if set(steps) & self.at_once else self.above

    def covers(self, step: str, way: Way) -> bool:
        """Whether a step is broken off by the master of its station where a way aborts it."""
        return step in self.broken and bool(way.aborts)


def laid(board: Board) -> Rails:
    """The rails of a board. Raises Unfit for a stop that must last a while."""
    read, forcing = board.net, board.chart.forcing
    master = board.sheet.relay("MCR")
    run: Network = WIRE
    free: Network = WIRE
    force: Network = WIRE
    relay = ""
    above: tuple[Master, ...] = (
        Master(contact(master), Comments(("Behind the master: every step but those at rest.",))),
    )
    if forcing is not None:
        if not any(isinstance(part, Rise) for part in walk(forcing.condition)):
            _not_waited_for(board, _releasing(forcing.condition))
        if stops_plainly(board):
            run = free = runs(board.sheet, forcing.condition)
        else:
            relay = board.sheet.relay("QR")
            force, free = stop(board, relay, *(nc(board.relays[name]) for name in read.forced))
            above = (*above, Master(nc(relay), Comments((f"Broken by {relay}.",))))
    at_once = frozenset((*read.starts, *(read.forced if relay else ())))
    return Rails(master, run, free, relay, force, above, _broken(board, at_once), at_once)


def stops_plainly(board: Board) -> bool:
    """Whether a stop only drops out everything, for as long as it lasts."""
    forcing, read = board.chart.forcing, board.net
    pressed = forcing is not None and any(isinstance(part, Rise) for part in walk(forcing.condition))
    return not pressed and set(read.forced) == set(read.starts)


def stop(board: Board, relay: str, *amiss: Network) -> tuple[Network, Network]:
    """What picks up the relay of a stop that leads to steps of its own, and what conducts while nothing stops.

    ``amiss`` conduct while it is not yet done. Raises Unfit for a stop that must last a while.
    """
    forcing = board.chart.forcing
    assert forcing is not None
    parts = list(walk(forcing.condition))
    if any(isinstance(part, Sustained | Elapsed) for part in parts):
        raise Unfit("what stops the cycle must last a while before it acts")
    pressed = any(isinstance(part, Rise) for part in parts)
    free = WIRE if pressed else complement(board.listening.told(forcing.condition))
    return board.listening.ends(forcing.condition, parallel(nc(relay), *amiss), (), forcing.words), free


def _not_waited_for(board: Board, releasing: set[str]) -> None:
    """Raises Unfit where a press that counts ends a stop at that moment: the master picks up too late for it."""
    for transition in board.chart.transitions:
        for part in walk(transition.condition):
            if isinstance(part, Rise) and part.device in releasing:
                raise Unfit(f"a press of {part.device} would have to end a stop and be waited for at one moment")


def _releasing(condition: Condition, *, against: bool = False) -> set[str]:
    """The inputs that may make a condition untrue as they are actuated."""
    match condition:
        case Signal(device=name):
            return {name} if against else set()
        case Not(of=part):
            return _releasing(part, against=not against)
        case And(of=parts) | Or(of=parts):
            return {name for part in parts for name in _releasing(part, against=against)}
        case _:
            return set()


def _broken(board: Board, at_once: frozenset[str]) -> dict[str, Master]:
    """For each station whose faults break off several steps: these steps, behind the NC contacts of the faults."""
    read = board.net
    faults: dict[int, list[str]] = {}
    for way in read.ways:
        if way.aborts:
            if len(way.targets) > 1:
                return {}
            faults.setdefault(read.station[way.targets[0]], []).append(way.targets[0])
    found: dict[str, Master] = {}
    for station, told in faults.items():
        names = list(dict.fromkeys(told))
        after = {target for name in names for way in read.out_of[name] for target in way.targets}
        behind = [
            step.name
            for step in read.steps
            if read.station[step.name] == station
            and step.name not in at_once | after | set(names)
            and not read.beside[step.name].intersection(names)
        ]
        if len(behind) > _FEW:
            relays = ", ".join(board.relays[name] for name in names)
            says = f"Behind {relays}: what the fault breaks off."
            found |= dict.fromkeys(behind, Master(none_of(board, names), Comments((says,))))
    return found
