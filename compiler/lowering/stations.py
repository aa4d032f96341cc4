"""Each cycle becomes a station of the net: its initial step, its steps, and the step in which it ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from compiler.chart import Words
from compiler.condition import Active, Always, And, Condition, Rise, Signal, both, negated, walk
from compiler.lowering.conditions import Setting, at_rest, lower_condition
from compiler.lowering.letters import check_letters
from compiler.lowering.net import Clear, Exit, Link, Part, Switch, Ways
from compiler.lowering.statements import LASTING, lower_statements
from compiler.lowering.work import Work, settled
from compiler.machine import Input, InputKind
from grammar.sequence import tree
from grammar.source import Span

__all__ = ["FINISHING", "Station", "lower_station", "only_at_home", "waits_for_itself"]

FINISHING = Active(step="@finishing")
"""That the cycle under way is to be the last, as it stands until the steps are known."""


@dataclass(frozen=True, slots=True)
class Station:
    """One cycle: its name (empty where there is but one), its initial step, the step in which it ends, what starts it
    (None where nothing does, or that is at fault), and what the program calls it."""

    name: str
    initial: str
    rest: str
    trigger: Condition | None
    called: str = ""


def lower_station(work: Work, cycle: tree.Cycle, name: str, *, finishes: bool) -> Station:
    """The steps of a cycle. ``finishes``: the program has a "stop at end of cycle"."""
    net = work.net
    net.station, net.path = name, ()
    initial = net.draft(Part.WORK, Words())
    initial.initial = True
    trigger, words = _trigger(work, cycle)
    ways = Ways((Exit((initial.id,), trigger or Always(), words),))
    entry = None
    if cycle.again is not None:
        entry = net.step(ways, Part.WORK, work.headline(cycle.span))
        entry.end = Always()
        ways = Ways((Exit((entry.id,), Always(), words),))
    check_letters(work.devices, cycle.steps)
    ended = lower_statements(work, cycle.steps, ways)
    if entry is not None and cycle.again is not None:
        ended = _again(work, cycle.again, entry.id, ended, finishes=finishes)
    own = {counter for station, counter in net.own_counters if station == name}
    pending = tuple(c for c in ended.pending if not (isinstance(c, Clear) and c.counter in own))
    ended = replace(ended, pending=pending)
    skips = len(net.drafts) > 1 and any(initial.id in way.sources for way in ended.exits)
    if skips or not all(isinstance(command, Switch) for command in pending):
        ended = settled(work, ended)
    rest = net.step(ended, Part.RESTING, Words())
    for step in (initial, rest):
        step.commands += [Clear(counter) for counter in dict.fromkeys(c for s, c in net.own_counters if s == name)]
    return Station(name, initial.id, rest.id, trigger)


def _again(work: Work, again: tree.Again, entry: str, ended: Ways, *, finishes: bool) -> Ways:
    """The way back to the first step, without the trigger; else the cycle is over."""
    net, words = work.net, work.words(again.condition.span)
    ended = settled(work, ended)
    condition = lower_condition(work.devices, again.condition, LASTING) or Always()
    condition = both(condition, negated(FINISHING)) if finishes else condition
    first = net.merge_into_next(entry)
    if ended.exits[0].sources in ((first,), (entry,)):
        ended = net.pass_through(replace(ended, over="end of the cycle"))
    (way,) = ended.exits
    net.link(Link(way.sources, (first,), both(way.condition, condition), words))
    if net.spins(first):
        message = "the cycle may take no time at all, and it would go round for ever in one moment"
        work.devices.fault("RW222", message, again.span)
    return ended.only_if(negated(condition))


def _trigger(work: Work, cycle: tree.Cycle) -> tuple[Condition | None, Words]:
    """What starts the cycle: its "when", or the moment START is pressed."""
    devices = work.devices
    if cycle.trigger is not None:
        trigger = lower_condition(devices, cycle.trigger.condition, Setting())
        return trigger, work.words(cycle.trigger.span)
    start = devices.find("START")
    if isinstance(start, Input):
        moment = start.kind is InputKind.PUSHBUTTON
        words = Words(text=f"when {start.name} is {'pressed' if moment else 'on'}")
        return Rise(device=start.name) if moment else Signal(device=start.name), words
    devices.fault("RW213", "nothing starts the cycle", Span(cycle.span.start, cycle.span.start + 1))
    return None, Words()


def waits_for_itself(work: Work, station: Station) -> None:
    """A station at work is not at rest: one that waits for its own rest waits for ever."""
    own = (at_rest(station.name), at_rest(station.called))
    told_of: set[Words] = set()
    for name in [d.id for d in work.net.drafts.values() if d.station == station.name and not d.initial]:
        for link in work.net.leaving.get(name, ()):
            parts = link.condition.of if isinstance(link.condition, And) else (link.condition,)
            if any(part in own for part in parts) and link.words not in told_of:
                told_of.add(link.words)
                message = f"{station.called} waits for itself to be at rest"
                work.devices.fault("RW233", message, Span(link.words.start, link.words.end))


def only_at_home(work: Work, stations: Sequence[Station], conditions: Sequence[Condition]) -> None:
    """The home conditions join the triggers. What speaks of a station's cylinder joins that station's alone."""
    moved = {c.device: c.station for c in work.commanded}
    sees = {
        switch.name: moved[actuator.name]
        for actuator in work.devices.actuators
        for switch in (*actuator.limit_switches, *actuator.pressure_switches)
        if actuator.name in moved
    }
    parts = [part for c in conditions for part in (c.of if isinstance(c, And) else (c,))]
    for station in stations:
        own = [c for c in parts if station.name in (concerned := _concerns(c, sees)) or not concerned]
        for link in work.net.leaving.get(station.initial, ()) if own else ():
            link.condition = both(link.condition, *own)


def _concerns(condition: Condition, sees: dict[str, str]) -> set[str]:
    """The stations whose cylinders a condition looks at."""
    return {sees[p.device] for p in walk(condition) if isinstance(p, Signal) and p.device in sees}
