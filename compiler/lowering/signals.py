"""What stood for steps yet unknown finds its steps: that a station is at rest, that a signal is on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from compiler.condition import Active, Condition, Counted, either, walk
from compiler.lowering.conditions import at_rest, signal_on
from compiler.lowering.inside import InsideKind
from compiler.lowering.net import Clear, Count, Link, Part
from compiler.lowering.outputs import Outputs
from compiler.lowering.stations import Station
from compiler.lowering.stopping import memory
from compiler.lowering.work import Work

__all__ = ["counted_by_somebody", "settle_rest", "signal_meanings"]

Meanings = dict[str, tuple[str, ...]]
"""For a made-up step the ids of the steps whose activity it stands for."""


def settle_rest(work: Work, stations: Sequence[Station], outputs: Outputs) -> Meanings:
    """A cycle ends in its initial step where nothing is left on; else in a rest step, which START leaves too."""
    net = work.net
    meanings: Meanings = {}
    for station in stations:
        resting: tuple[str, ...] = (station.initial,)
        if outputs.left[station.rest]:
            resting = (station.initial, station.rest)
            for link in list(net.leaving.get(station.initial, ())):
                if station.rest not in link.targets:
                    net.link(Link((station.rest,), link.targets, link.condition, link.words, link.fork))
        else:
            net.retarget(station.rest, station.initial)
            net.forget(station.rest)
        meanings[_step(at_rest(station.name))] = meanings[_step(at_rest(station.called))] = resting
    return meanings


def signal_meanings(
    work: Work, stations: Sequence[Station], outputs: Outputs, shown: frozenset[str], asked: Iterable[Condition]
) -> Meanings:
    """The steps in which each signal is on. One that depends on the way there is remembered by two steps."""
    devices, net = work.devices, work.net
    waited_for = {part.step for c in asked for part in walk(c) if isinstance(part, Active)}
    meanings: Meanings = {}
    for name in [inside.name for inside in devices.inside if inside.kind is InsideKind.SIGNAL]:
        made_up, span = _step(signal_on(name)), devices.spans[name]
        faults = [d.id for d in net.drafts.values() if d.part is Part.FAULT]
        on = [d.id for d in net.drafts.values() if name in outputs.on.get(d.id, ()) and d.part is not Part.FAULT]
        on += faults if name in shown else []
        if name in outputs.stored:
            meanings[made_up] = (_remembered(work, stations, outputs, name, faults),)
        elif on:
            meanings[made_up] = tuple(on)
        elif made_up in waited_for:
            devices.fault("RW231", f"{name} is waited for, and nothing turns it on", span)
        if made_up not in waited_for:
            devices.fault("RW313", f"nothing asks {name}", span)
    return meanings


def _remembered(work: Work, stations: Sequence[Station], outputs: Outputs, name: str, faults: Sequence[str]) -> str:
    """A memory of a signal: set by the steps that turn it on, reset by those that turn it off, by faults and rest."""
    sets = [id for id, names in outputs.sets.items() if name in names]
    resets = [id for id, names in outputs.resets.items() if name in names]
    owners = {c.station for c in work.commanded if c.output == name}
    resets += [s.initial for s in stations if s.name in owners]
    resets += [id for id in faults if work.net.drafts[id].station in owners]
    words = work.words(work.devices.spans[name])
    return memory(work.net, _any(sets), _any(resets), words, (f"{name} is off", f"{name} is on"))


def _any(steps: Iterable[str]) -> Condition:
    return either(*(Active(step=step) for step in dict.fromkeys(steps)))


def _step(condition: Condition) -> str:
    assert isinstance(condition, Active)
    return condition.step


def counted_by_somebody(work: Work, asked: Iterable[Condition]) -> None:
    """A counter that is asked for is to be counted somewhere; one that is not asked for decides nothing."""
    devices, net = work.devices, work.net
    waited_for = {part.counter for c in asked for part in walk(c) if isinstance(part, Counted)}
    given = [command for draft in net.drafts.values() for command in draft.commands]
    counted = {command.counter for command in given if isinstance(command, Count)}
    cleared = {command.counter for command in given if isinstance(command, Clear)}
    cleared |= {counter for _, counter in net.own_counters}
    spoken_of = waited_for | {command.counter for command in given if isinstance(command, Count | Clear)}
    for name in [inside.name for inside in devices.inside if inside.kind is InsideKind.COUNTER]:
        if name in waited_for and name not in counted:
            devices.fault("RW336", f"nothing counts {name}, so it never gets anywhere", devices.spans[name])
        elif name in waited_for and name not in cleared:
            devices.fault("RW337", f"nothing clears {name}: what it has reached, it has reached for good",
                          devices.spans[name])  # fmt: skip
        elif name not in waited_for:
            devices.fault("RW313", f"nothing asks {name}", devices.spans[name])
        if name in spoken_of and name not in net.counters:
            net.counters.append(name)
