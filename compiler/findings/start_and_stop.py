"""How the machine is started and stopped."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.chart import Transition
from compiler.condition import Rise, Signal, walk
from compiler.findings.subject import Subject, conjuncts, end_switches
from compiler.machine import Actuator, Contact, End, InputKind, ValveKind
from grammar.diagnostic import Diagnostic

__all__ = [
    "held_start",
    "home_after_stop",
    "no_stop",
    "start_away_from_home",
    "start_out_of_reach",
    "stop_wired_open",
]


def no_stop(subject: Subject) -> Iterator[Diagnostic]:
    """RW308: nothing brings the machine to rest."""
    if subject.chart.forcing is None and subject.machine.stop is None:
        yield subject.at_words("RW308", "nothing stops the machine", subject.chart.transitions[0].words
                               if subject.chart.transitions else subject.chart.steps[0].words)  # fmt: skip


def stop_wired_open(subject: Subject) -> Iterator[Diagnostic]:
    """RW318: a normally open STOP does nothing once its wire is broken."""
    for device in subject.machine.inputs:
        if device.name == subject.machine.stop and device.contact is Contact.NORMALLY_OPEN:
            yield subject.at_device("RW318", f"{device.name} is wired normally open", device.name)


def held_start(subject: Subject) -> Iterator[Diagnostic]:
    """RW307: a pushbutton starts the cycle for as long as it is held."""
    for t in _triggers(subject):
        moments = [part for part in walk(t.condition) if isinstance(part, Rise)]
        for part in conjuncts(t.condition):
            button = isinstance(part, Signal) and subject.machine.input(part.device).kind is InputKind.PUSHBUTTON
            if isinstance(part, Signal) and button and not moments:
                yield subject.at_words("RW307", f"{part.device} starts again for as long as it is held", t.words)


def start_away_from_home(subject: Subject) -> Iterator[Diagnostic]:
    """RW317: the cycle may start while a cylinder with a switch at its rest is not there."""
    for t in _triggers(subject):
        asked = {part.device for part in walk(t.condition) if isinstance(part, Signal)}
        own = subject.concern(subject.step(t.sources[0]))
        away = [
            a.name
            for a in subject.machine.actuators
            if a.name in own and _rest_switch(a) is not None and not asked.intersection(end_switches(a))
        ]
        if away:
            place = "at-home" if all(subject.machine.actuator(n).rest is End.HOME for n in away) else "at rest"
            wanted = " and ".join(f"{n} is {_place(subject.machine.actuator(n))}" for n in away)
            message = f"the cycle may be started while {' or '.join(away)} is not {place}"
            yield subject.at_words("RW317", message, t.words, cure=f"add: home when {wanted}")


def start_out_of_reach(subject: Subject) -> Iterator[Diagnostic]:
    """RW328: the cycle starts only with a cylinder at the end where it does not rest."""
    for t in _triggers(subject):
        asked = {part.device for part in conjuncts(t.condition) if isinstance(part, Signal)}
        for a in subject.machine.actuators:
            if any(name in asked and end is not a.rest for name, end in end_switches(a).items()):
                other = "at-home" if a.rest is End.END else "at-end"
                message = f"{a.name} rests {_place(a)}, and the cycle is started only while it is {other}"
                cure = 'Add "normally extended" to its lines.' if a.rest is End.HOME else ""
                yield subject.at_words("RW328", message, t.words, cure=cure)


def home_after_stop(subject: Subject) -> Iterator[Diagnostic]:
    """RW319: START needs a cylinder at rest that its valve leaves elsewhere when STOP drops everything out."""
    if subject.chart.forcing is None or subject.chart.forcing.steps:
        return
    for t in _triggers(subject):
        needed = {part.device for part in conjuncts(t.condition) if isinstance(part, Signal)}
        for actuator in subject.machine.actuators:
            sprung = actuator.valve.kind is ValveKind.SPRING_RETURN
            if not sprung and _rest_switch(actuator) in needed:
                stays = f"stay {'out' if actuator.rest is End.HOME else 'in'}"
                where = stays if actuator.valve.centre is None else "stand anywhere"
                message = f"after STOP {actuator.name} may {where}, and then START is not obeyed"
                yield subject.at_words("RW319", message, t.words)


def _triggers(subject: Subject) -> list[Transition]:
    """For each station what starts it: where several ways begin, the first stands for all."""
    ways = {t.sources[0]: t for t in reversed(subject.shape.ways) if subject.shape.initial.intersection(t.sources)}
    return [ways[step.name] for step in subject.chart.steps if step.name in ways]


def _rest_switch(actuator: Actuator) -> str | None:
    at = actuator.stroke_um if actuator.rest is End.END else 0
    return next((s.name for s in actuator.limit_switches if s.at_um == at and s.toward is actuator.rest), None)


def _place(actuator: Actuator) -> str:
    return "at-end" if actuator.rest is End.END else "at-home"
