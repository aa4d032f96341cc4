"""The ways in which what was seen may be read: all fit one trial run, and the proof tells them apart.

A button may count at the moment it is pressed or while it is held; a hold may begin anew when its switch lets go; the
last stroke may be waited for or only be let go.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from typing import TypeVar

from compiler.condition import And, Condition, Not, Or, Rise, Signal, Sustained, both
from compiler.lowering.commands import end_switch
from compiler.machine import End, Machine, ValveKind
from compiler.retell.cause import End as Awaited
from compiler.retell.cycle import Followed, Piece

__all__ = ["readings"]

Way = TypeVar("Way")


def readings(machine: Machine, followed: Followed) -> Iterator[Followed]:
    """Every way to read it, the plainest first."""
    plain = _without_the_obvious(machine, followed)
    for seen in _distinct(plain, followed):
        triggers = _distinct(seen.trigger, _while_held(seen.trigger))
        holds = _distinct(seen.pieces, _lasting(seen.pieces))
        for pieces, trigger in product(holds, triggers):
            for told in _distinct(_waited_for(machine, pieces), pieces):
                yield replace(seen, trigger=trigger, pieces=told)


def _without_the_obvious(machine: Machine, followed: Followed) -> Followed:
    """Without saying of a cylinder that it is where it was sent long ago, or that it has left its other end."""
    following = (*followed.pieces[1:], None)
    kept = [p for p, after in zip(followed.pieces, following, strict=True) if not _leaves(machine, p, after)]
    pieces = tuple(replace(piece, end=piece.end and _plainer(machine, piece.end)) for piece in kept)
    return replace(followed, trigger=_less(machine, followed.trigger), pieces=pieces)


def _leaves(machine: Machine, piece: Piece, after: Piece | None) -> bool:
    """Whether a step only waits for a cylinder to leave an end, and the next one shows no more than that."""
    if after is None or after.on != piece.on or piece.limit is not None or piece.end is None:
        return False
    return isinstance(piece.end.until, Not) and _obvious(piece.end.until, _ends(machine), positive=False)


def _ends(machine: Machine) -> set[str | None]:
    return {end_switch(actuator, place) for actuator in machine.actuators for place in End}


def _plainer(machine: Machine, end: Awaited) -> Awaited:
    return end if end.until is None else replace(end, until=_less(machine, end.until, end.cause))


def _less(machine: Machine, condition: Condition, cause: frozenset[str] = frozenset()) -> Condition:
    """A condition without places of cylinders that did not bring it about; where the cause is not known, without
    places that are only not taken."""
    if not isinstance(condition, And):
        return condition
    kept = [part for part in condition.of if not _obvious(part, _ends(machine) - cause, positive=bool(cause))]
    return both(*kept) if kept else condition


def _obvious(part: Condition, ends: set[str | None], *, positive: bool) -> bool:
    match part:
        case Not(of=Signal(device=device)):
            return device in ends
        case Signal(device=device):
            return positive and device in ends
        case _:
            return False


def _distinct(*ways: Way) -> list[Way]:
    return [way for k, way in enumerate(ways) if way not in ways[:k]]


def _while_held(condition: Condition) -> Condition:
    match condition:
        case Rise(device=device):
            return Signal(device=device)
        case And(of=parts) | Or(of=parts):
            return condition.model_copy(update={"of": tuple(map(_while_held, parts))})
        case _:
            return condition


def _lasting(pieces: tuple[Piece, ...]) -> tuple[Piece, ...]:
    """Holds that begin anew, as conditions that last."""
    told: list[Piece] = []
    for piece in pieces:
        before = told[-1] if told else None
        if piece.end is None or not piece.end.unbroken or before is None or before.end is None:
            told.append(piece)
            continue
        assert before.end.until is not None
        assert piece.end.for_us is not None
        until = Sustained(of=before.end.until, time_us=piece.end.for_us)
        told[-1] = replace(before, end=replace(before.end, at=piece.end.at, until=until))
    return tuple(told)


def _waited_for(machine: Machine, pieces: tuple[Piece, ...]) -> tuple[Piece, ...]:
    """With the last stroke waited for: that of a spring return which the last step lets go."""
    if len(pieces) < 2 or pieces[-1].end is not None:
        return pieces
    last, gone = pieces[-1], pieces[-2].on - pieces[-1].on
    for actuator in machine.actuators:
        switch = end_switch(actuator, actuator.rest)
        sprung = actuator.valve.kind is ValveKind.SPRING_RETURN
        if sprung and switch is not None and {actuator.valve.extend, actuator.valve.retract} & gone:
            return (*pieces[:-1], replace(last, end=Awaited(-1, 0, until=Signal(device=switch))))
    return pieces
