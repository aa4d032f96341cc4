"""What STOP does, how a cycle is made the last one, and what leads out of a fault.

A press that must be remembered is remembered by a chart of two steps beside the stations (a *memory*): from "not
asked" to "asked" and, once the machine is at rest, back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from compiler.chart import Forcing, Words
from compiler.condition import Active, Always, Condition, Rise, Signal, both, negated, walk
from compiler.lowering.conditions import Setting, at_rest, lower_condition
from compiler.lowering.devices import Devices
from compiler.lowering.finishing import finish_steps
from compiler.lowering.net import Exit, Link, Net, Part, Ways
from compiler.lowering.statements import lower_statements
from compiler.lowering.stations import Station
from compiler.lowering.work import Work, settled
from compiler.machine import Actuator, End, Input, InputKind, ValveKind
from grammar.sequence import tree

__all__ = ["Stop", "button_in", "fault_resets", "last_cycle", "memory", "stop_rule"]


@dataclass(frozen=True, slots=True)
class Stop:
    """What STOP does: the forcing it comes to, if any; the button; and whether the machine comes to rest by steps
    rather than all at once."""

    forcing: Forcing | None = None
    button: str | None = None
    by_steps: bool = False


def button_in(devices: Devices, condition: Condition | None) -> str | None:
    """The first pushbutton a condition speaks of."""
    named = [] if condition is None else [p.device for p in walk(condition) if isinstance(p, Rise | Signal)]
    inputs = [devices.find(name) for name in named]
    return next((d.name for d in inputs if isinstance(d, Input) and d.kind is InputKind.PUSHBUTTON), None)


def stop_rule(work: Work, program: tree.Program, stations: Sequence[Station]) -> Stop:
    """What STOP does: drop out everything, for as long as it is held, unless told otherwise or nothing is STOP."""
    devices = work.devices
    rules = [d for d in program.declarations if isinstance(d, tree.StopRule)]
    for extra in rules[1:]:
        devices.fault("RW211", "what STOP does is already said", extra.span)
    if not rules:
        stop = devices.find("STOP")
        if not isinstance(stop, Input):
            return Stop()
        words = Words(text=f"when {stop.name} is pressed, drop out everything")
        return Stop(Forcing(condition=Signal(device=stop.name), words=words), stop.name)
    rule = rules[0]
    held = lower_condition(devices, rule.condition, Setting(moments=False))
    if held is None:
        return Stop()
    button, words = button_in(devices, held), work.headline(rule.span)
    if isinstance(rule.response, tree.DropOut):
        return Stop(Forcing(condition=held, words=work.words(rule.span)), button)
    moment = lower_condition(devices, rule.condition, Setting()) or held
    _not_while_stopped(work, stations, held)
    if isinstance(rule.response, tree.FinishStep):
        resting = _all_at_rest(stations)
        said = ("no stop is remembered", "the stop is remembered")
        asked = memory(work.net, both(moment, negated(resting)), resting, words, said)
        finish_steps(work, stations, Active(step=asked), rule.span)
        return Stop(None, button, by_steps=True)
    if not any(isinstance(part, Rise) for part in walk(moment)):
        devices.fault("RW230", "the way home begins at a moment, and this is a state that lasts", rule.condition.span)
    first = _way_home(work, rule.response, stations, words)
    forcing = Forcing(condition=moment, steps=(first,), words=words)
    return Stop(forcing, button, by_steps=True)


def _not_while_stopped(work: Work, stations: Sequence[Station], held: Condition) -> None:
    """STOP is ahead of START: no cycle begins while it is held."""
    for station in stations:
        for link in work.net.leaving.get(station.initial, ()):
            link.condition = both(link.condition, negated(held))


def _all_at_rest(stations: Sequence[Station]) -> Condition:
    return both(*(at_rest(station.name) for station in stations))


def memory(net: Net, asked: Condition, over: Condition, words: Words, said: tuple[str, str]) -> str:
    """Two steps that remember something from the moment ``asked`` until it is ``over``; gives the second one.
    ``said`` is what it means that the first is active, and the second."""
    net.station, net.path = "", ()
    no, yes = (net.draft(Part.MEMORY, words.model_copy(update={"text": text})) for text in said)
    no.initial = True
    net.link(Link((no.id,), (yes.id,), asked, words))
    net.link(Link((yes.id,), (no.id,), over, words))
    return yes.id


def _way_home(work: Work, home: tree.ReturnHome, stations: Sequence[Station], words: Words) -> str:
    """The steps that lead home, from nothing on to every station's initial step; gives the first one."""
    net = work.net
    net.station, net.path = "", ()
    known = set(net.drafts)
    entry = net.draft(Part.HOMEWARD, words)
    entry.end = Always()
    ended = settled(work, lower_statements(work, home.steps, Ways((Exit((entry.id,), Always(), words),))))
    for way in ended.exits:
        net.link(Link(way.sources, tuple(s.initial for s in stations), way.condition, way.words))
    for draft in net.drafts.values():
        if draft.id not in known and draft.part is Part.WORK:
            draft.part = Part.HOMEWARD
    _let_go_at_once(work, home)
    return net.merge_into_next(entry.id)


def _let_go_at_once(work: Work, home: tree.ReturnHome) -> None:
    """A cylinder that a spring returns goes home as everything drops out, whatever its place in the order."""
    steps = [step for step in home.steps if isinstance(step, tree.CycleStep)]
    for step in steps[1:]:
        for command in step.commands:
            if isinstance(command, tree.Stroke) and command.actuator is not None:
                actuator = work.devices.find(command.actuator.text)
                toward = End.END if command.direction == "extend" else End.HOME
                sprung = isinstance(actuator, Actuator) and actuator.valve.kind is ValveKind.SPRING_RETURN
                if isinstance(actuator, Actuator) and sprung and actuator.rest is toward:
                    message = f"{actuator.name} does not wait for its turn: its spring returns it at once"
                    work.devices.fault("RW334", message, command.span)


def last_cycle(work: Work, program: tree.Program, stations: Sequence[Station]) -> str | None:
    """ "Stop at end of cycle": gives the step that remembers that it was asked for, if the program has it."""
    devices = work.devices
    rules = [d for d in program.declarations if isinstance(d, tree.FinishCycle)]
    for extra in rules[1:]:
        devices.fault("RW211", "what ends the cycles is already said", extra.span)
    if not rules:
        return None
    if not any(isinstance(d, tree.Cycle) and d.again is not None for d in program.declarations):
        devices.fault("RW229", "every cycle is the last one: no cycle begins again by itself", rules[0].span)
    condition = lower_condition(devices, rules[0].condition, Setting())
    if condition is None:
        return None
    resting = _all_at_rest(stations)
    said = ("the cycles go on", "this cycle is to be the last")
    return memory(work.net, both(condition, negated(resting)), resting, work.words(rules[0].span), said)


def fault_resets(work: Work, program: tree.Program, stations: Sequence[Station], stop: Stop) -> None:
    """Ways from fault steps back to rest, as "a fault is reset by" says."""
    devices, net = work.devices, work.net
    rules = [d for d in program.declarations if isinstance(d, tree.FaultReset)]
    for extra in rules[1:]:
        devices.fault("RW211", "what resets a fault is already said", extra.span)
    faults = [draft for draft in net.drafts.values() if draft.part is Part.FAULT]
    if not rules and faults and stop.by_steps and stop.forcing is None:
        said = next(d.span for d in program.declarations if isinstance(d, tree.StopRule))
        devices.fault(
            "RW335", "nothing leads out of a fault: a STOP that finishes the stroke leaves it as it is", said
        )
    condition = lower_condition(devices, rules[0].condition, Setting()) if rules else None
    if condition is None:
        return
    words = work.words(rules[0].span)
    initial = {station.name: station.initial for station in stations}
    for draft in faults:
        own = initial.get(draft.station)
        targets = (own,) if own is not None else tuple(initial.values())
        net.link(Link((draft.id,), targets, condition, words))
