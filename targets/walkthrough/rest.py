"""How a machine stands: at rest as it began, or what is different."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from compiler.machine import Machine
from compiler.walk.changes import Instant
from targets.walkthrough.words import listed, place_words

__all__ = ["back_at_rest", "is_unlike", "standing"]


def back_at_rest(machine: Machine, start: Instant, end: Instant, *, by_rungs: bool) -> str:
    """A sentence on how the machine stands at the end, held against how it stood at the start."""
    unlike = list(_unlike(machine, start, end, by_rungs=by_rungs))
    if unlike:
        return f"In the end not all is as it was at the start: {listed(unlike)}."
    return f"In the end everything is as it was at the start: {standing(machine, end, by_rungs=by_rungs)}."


def is_unlike(machine: Machine, start: Instant, end: Instant, *, by_rungs: bool, places: bool = True) -> bool:
    """Whether anything stands otherwise than at the start; without ``places``, whether anything but a rod does."""
    end = end if places else replace(end, places=start.places)
    return any(True for _ in _unlike(machine, start, end, by_rungs=by_rungs))


def standing(machine: Machine, instant: Instant, *, by_rungs: bool) -> str:
    """Where everything stands."""
    on = [load.name for load in machine.loads if load.name in instant.on]
    parts = [f"{listed(on)} {'is' if len(on) == 1 else 'are'} on" if on else "every load is off"]
    if by_rungs:
        lit = listed(instant.lit)
        parts.insert(0, f"{lit} {'is' if len(instant.lit) == 1 else 'are'} in" if lit else "no coil is in")
    places = {name: _at(machine, name, at) for name, at in instant.places}
    for place in dict.fromkeys(places.values()):
        names = [name for name, at in places.items() if at == place]
        parts.append(_standing(names, place))
    return listed(parts)


def _standing(names: list[str], place: str) -> str:
    if len(names) == 1:
        return f"{names[0]} is {place}"
    return f"{listed(names)} are {place.replace('its end', 'their ends')}"


def _unlike(machine: Machine, start: Instant, end: Instant, *, by_rungs: bool) -> Iterator[str]:
    if by_rungs:
        yield from _now(set(start.lit), end.lit, "in", "out")
    yield from _now(set(start.on), [load.name for load in machine.loads if load.name in end.on], "on", "off")
    gone = [load.name for load in machine.loads if load.name in start.on - end.on]
    if gone:
        yield f"{listed(gone)} {'is' if len(gone) == 1 else 'are'} off"
    before = dict(start.places)
    places = {name: _at(machine, name, at) for name, at in end.places if at != before[name]}
    for place in dict.fromkeys(places.values()):
        names = [name for name, at in places.items() if at == place]
        yield _standing(names, place)
    if not by_rungs and start.active != end.active and not start.on ^ end.on:
        names = sorted(end.active - start.active)
        if names:
            yield f"the chart stands in {listed(names)}"


def _now(before: set[str], now: tuple[str, ...] | list[str], yes: str, no: str) -> Iterator[str]:
    come = [name for name in now if name not in before]
    if come:
        yield f"{listed(come)} {'is' if len(come) == 1 else 'are'} {yes}"
    gone = sorted(before - set(now)) if yes == "in" else []
    if gone:
        yield f"{listed(gone)} {'is' if len(gone) == 1 else 'are'} {no}"


def _at(machine: Machine, name: str, at: int) -> str:
    full = machine.actuator(name).stroke_um
    return "home" if at == 0 else "at its end" if at == full else f"at {place_words(at)}"
