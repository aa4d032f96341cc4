"""Strokes nobody watches, that wait at the wrong end, that are over before they begin or timed too short."""

from __future__ import annotations

import re
from collections.abc import Iterator

from compiler.chart import Step, Words
from compiler.condition import Always, And, Condition, Elapsed, Not, Or, Rise, Signal, Sustained, either, walk
from compiler.findings.subject import Subject, conjuncts, switches_of
from compiler.machine import Actuator, End
from compiler.units import time_text
from grammar.diagnostic import Diagnostic

__all__ = ["already_there", "no_feedback", "no_time_limit", "time_too_short", "waits_at_wrong_end"]

_VERB = {End.END: "extend", End.HOME: "retract"}
_BETWEEN_MOVES = 4
"""Characters between two moves of a line in letters, at most: those of a closing and an opening bracket."""


def no_feedback(subject: Subject) -> Iterator[Diagnostic]:
    """RW303: the step that begins the stroke, and waits, does not look at any switch of the cylinder."""
    for step in subject.chart.steps:
        for actuator, toward in subject.begun(step):
            if not _watched(subject, step, actuator):
                message = f"the {_VERB[toward]} stroke of {actuator.name} has no feedback"
                yield subject.at_words("RW303", message, subject.place_of(step))


def no_time_limit(subject: Subject) -> Iterator[Diagnostic]:
    """RW304: a stroke that is waited for has no time after which the machine gives up. Moves in letters, which take
    no limit, are told of once for a line."""
    letters: list[tuple[Words, str]] = []
    for step in subject.chart.steps:
        for actuator, toward in subject.begun(step):
            timed = any(isinstance(part, Elapsed) for t in subject.exits(step) for part in walk(t.condition))
            if not step.initial and not timed and _watched(subject, step, actuator):
                place, cure = _command_of(subject, step, actuator), _limit(actuator, toward)
                if place.text.endswith(("+", "-")):
                    end = "at-end" if toward is End.END else "at-home"
                    letters.append((place, f"{_VERB[toward]} {actuator.name} until {end}, {cure}"))
                    continue
                message = f"no time limit on the {_VERB[toward]} stroke of {actuator.name}"
                yield subject.at_words("RW304", message, place, cure=f"add: {cure}")
    for line in _in_lines(sorted(set(letters), key=lambda told: told[0].start)):
        (first, step_words), (last, _) = line[0], line[-1]
        strokes = " ".join(dict.fromkeys(place.text for place, _ in line))
        words = first.model_copy(update={"end": last.end})
        cure = f"where one is wanted, write a step: {step_words}"
        yield subject.at_words("RW304", f"no time limit on {strokes}: letters take none", words, cure=cure)


def _limit(actuator: Actuator, toward: End) -> str:
    """A limit of half as much again as the slowest stroke takes, in half seconds."""
    travel = actuator.extend_time if toward is End.END else actuator.retract_time
    limit = time_text(-(-travel.greatest_us * 3 // 2 // 500_000) * 500_000)
    return f'within {limit} or fault "{actuator.name} did not {_VERB[toward]}"'


def _in_lines(told: list[tuple[Words, str]]) -> Iterator[list[tuple[Words, str]]]:
    """Moves with no more than brackets, bars and blanks between them: those of one line, or of a part of it."""
    line: list[tuple[Words, str]] = []
    for place, cure in told:
        if line and place.start - line[-1][0].end > _BETWEEN_MOVES:
            yield line
            line = []
        line.append((place, cure))
    if line:
        yield line


def _command_of(subject: Subject, step: Step, actuator: Actuator) -> Words:
    """The words of the command that waits for a stroke, where a limit is missing: not those of a lamp before it, nor
    those of a choice or repeat after it."""
    said = [words for words in (*(t.words for t in subject.onward(step)), step.words) if words.end]
    named = re.compile(rf"\b{re.escape(actuator.name)}\b", re.IGNORECASE)
    return next((words for words in said if named.search(words.text)), next(iter(said), step.words))


def waits_at_wrong_end(subject: Subject) -> Iterator[Diagnostic]:
    """RW306: the step needs a switch that the stroke it begins moves away from."""
    for step in subject.chart.steps:
        for actuator, toward in subject.begun(step):
            away = {
                s.name for s in actuator.limit_switches if s.toward is not toward and _at_an_end(actuator, s.at_um)
            }
            for t in subject.onward(step):
                for part in conjuncts(t.condition):
                    if isinstance(part, Signal) and part.device in away and not step.initial:
                        message = f"{actuator.name} is told to {_VERB[toward]}, and the step waits for {part.device}"
                        yield subject.at_words("RW306", f"{message} at the other end", step.words)


def already_there(subject: Subject) -> Iterator[Diagnostic]:
    """RW310: following the chart from rest, the end condition of a step holds as the step begins."""
    for step in subject.chart.steps:
        ways = [t for t in subject.onward(step) if len(t.sources) == 1]
        if step.initial or step.fault or not ways or subject.passing(step):
            continue
        if _holds(either(*(t.condition for t in ways)), _switch_states(subject, step)) is True:
            yield subject.at_words("RW310", "the end condition is already true when the step begins", step.words)


def time_too_short(subject: Subject) -> Iterator[Diagnostic]:
    """RW311: a stroke that is only timed may not have arrived when the time is up."""
    for step in subject.chart.steps:
        for actuator, toward in subject.begun(step):
            travel = actuator.extend_time if toward is End.END else actuator.retract_time
            for t in subject.onward(step):
                match t.condition:
                    case Elapsed(time_us=time) if time < travel.greatest_us:
                        message = f"{time_text(time)} is shorter than the stroke of {actuator.name}"
                        greatest = time_text(travel.greatest_us)
                        yield subject.at_words("RW311", f"{message}, which takes up to {greatest}", step.words)
                    case _:
                        pass


def _watched(subject: Subject, step: Step, actuator: Actuator) -> bool:
    switches = switches_of(actuator)
    ways = subject.onward(step)
    if subject.passing(step):  # it waits for nothing: those that follow it do
        ways = [*ways, *(way for t in ways for name in t.targets for way in subject.onward(subject.step(name)))]
    return any(isinstance(part, Signal) and part.device in switches for t in ways for part in walk(t.condition))


def _at_an_end(actuator: Actuator, at_um: int) -> bool:
    return at_um in (0, actuator.stroke_um)


def _switch_states(subject: Subject, step: Step) -> dict[str, bool]:
    """The limit switches whose state is sure as a step begins."""
    known: dict[str, bool] = {}
    for actuator in subject.machine.actuators:
        stands = subject.stands(step, actuator)
        if stands is not None:
            at = actuator.stroke_um if stands is End.END else 0
            for switch in actuator.limit_switches:
                known[switch.name] = at >= switch.at_um if switch.toward is End.END else at <= switch.at_um
    return known


def _holds(condition: Condition, known: dict[str, bool]) -> bool | None:
    """Whether a condition holds at the start of a step; None where that can't be said."""
    match condition:
        case Always():
            return True
        case Signal(device=name):
            return known.get(name)
        case Rise() | Elapsed():
            return False
        case Sustained(of=of):
            return False if _holds(of, known) is False else None
        case Not(of=of):
            inner = _holds(of, known)
            return None if inner is None else not inner
        case And(of=parts):
            found = [_holds(part, known) for part in parts]
            return False if False in found else None if None in found else True
        case Or(of=parts):
            found = [_holds(part, known) for part in parts]
            return True if True in found else None if None in found else False
        case _:
            return None
