"""How a machine stands: at rest as it began, or what is different."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from compiler.machine import Machine
from compiler.walk.changes import Instant
from targets.walkthrough.words import listed, place_words

__all__ = ["back_at_rest", "is_unlike", "standing"]

_COUNTED = " = "


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
        lit = _coils(instant.lit)
        told = f"{listed(lit)} {'is' if len(lit) == 1 else 'are'} in" if lit else "no coil is in"
        parts = [told, *_stand_at(_counts(instant.lit)), *parts]
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
        yield from _now(set(_coils(start.lit)), _coils(end.lit), "in", "out")
        before, now = _counts(start.lit), _counts(end.lit)
        other = (name for name in before | now if before.get(name) != now.get(name) and name not in end.lit)
        yield from _stand_at({name: now.get(name, "0") for name in other})
    yield from _now(set(start.on), [load.name for load in machine.loads if load.name in end.on], "on", "off")
    gone = [load.name for load in machine.loads if load.name in start.on - end.on]
    if gone:
        yield f"{listed(gone)} {'is' if len(gone) == 1 else 'are'} off"
    begun = dict(start.places)
    places = {name: _at(machine, name, at) for name, at in end.places if at != begun[name]}
    for place in dict.fromkeys(places.values()):
        names = [name for name, at in places.items() if at == place]
        yield _standing(names, place)
    if not by_rungs and start.active != end.active and not start.on ^ end.on:
        names = sorted(end.active - start.active)
        if names:
            yield f"the chart stands in {listed(names)}"


def _coils(lit: Sequence[str]) -> list[str]:
    """What is in, without counters and how far they have counted, which a logic names as ``CT1 = 2``."""
    return [name for name in lit if _COUNTED not in name]


def _counts(lit: Sequence[str]) -> dict[str, str]:
    """How far each counter has counted that has."""
    told = (name.partition(_COUNTED) for name in lit if _COUNTED in name)
    return {name: count for name, _, count in told}


def _stand_at(counts: Mapping[str, str]) -> Iterator[str]:
    yield from (f"{name} stands at {count}" for name, count in counts.items())


def _now(before: set[str], now: Sequence[str], yes: str, no: str) -> Iterator[str]:
    come = [name for name in now if name not in before]
    if come:
        yield f"{listed(come)} {'is' if len(come) == 1 else 'are'} {yes}"
    gone = sorted(before - set(now)) if yes == "in" else []
    if gone:
        yield f"{listed(gone)} {'is' if len(gone) == 1 else 'are'} {no}"


def _at(machine: Machine, name: str, at: int) -> str:
    full = machine.actuator(name).stroke_um
    return "home" if at == 0 else "at its end" if at == full else f"at {place_words(at)}"
