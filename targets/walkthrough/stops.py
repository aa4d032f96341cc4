"""What STOP does in each phase of the cycle, told from runs in which it is pressed there."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.condition import And, Rise, Signal, both, walk
from compiler.machine import Machine, ValveKind
from compiler.tell import condition_words
from compiler.walk.changes import Instant
from compiler.walk.record import Record
from targets.walkthrough.moments import Teller, refused_words
from targets.walkthrough.rest import back_at_rest, is_unlike, standing
from targets.walkthrough.scenes import Phase, Scenes
from targets.walkthrough.told import Level, Passage, Section, Sentence
from targets.walkthrough.words import listed, lowered, seconds

__all__ = ["phase_words", "stop_of", "stop_section"]

_MOST_PHASES = 24


def stop_of(scenes: Scenes) -> str | None:
    """The input that stops the machine: the one declared so, or one that the chart is forced by."""
    if scenes.machine.stop is not None:
        return scenes.machine.stop
    forcing = () if scenes.chart.forcing is None else walk(scenes.chart.forcing.condition)
    return next((part.device for part in forcing if isinstance(part, Signal)), None)


def stop_section(scenes: Scenes, level: Level) -> Section:
    """A passage for each phase, those that STOP does the same in together; of a long cycle not each, and then that is
    said."""
    stop = stop_of(scenes)
    if stop is None:
        return Section("What STOP does", (), "This machine has no STOP.")
    every = scenes.phases()
    phases = list({phase.steps: phase for phase in reversed(every)}.values())[::-1]
    step = max(1, -(-len(phases) // _MOST_PHASES))
    of_it = " of the cycle, not of its other ways," if scenes.ways[0] else ""
    opening = f"{stop} is pressed in the middle of each phase{of_it} and let go 0.4 s later."
    if len(phases) < len(every):
        opening += " A phase that comes again is told once."
    if step > 1:
        opening += f" Of {len(phases)} phases one in {step} is told."
    told: dict[tuple[str, ...], tuple[list[Phase], tuple[Sentence, ...]]] = {}
    for phase in phases[::step]:
        sentences = tuple(_told(scenes, stop, phase, level))
        told.setdefault(tuple(s.text for s in sentences), ([], sentences))[0].append(phase)
    passages = tuple(
        Passage(sentences, None, f"In {' and in '.join(phase_words(scenes, p) for p in alike)}", alike[0].from_us)
        for alike, sentences in told.values()
    )
    standing_words = standing(scenes.machine, scenes.resting, by_rungs=scenes.normal.circuit)
    opening += f" Where nothing else is said, all is in the end as it was at the start: {standing_words}."
    return Section(f"What {stop} does in each phase", passages, opening)


def phase_words(scenes: Scenes, phase: Phase) -> str:
    """``“extend RAM until at-end” (S1)``."""
    return scenes.sequence.phase(phase.steps)


def _told(scenes: Scenes, stop: str, phase: Phase, level: Level) -> Iterator[Sentence]:
    at_us = phase.middle_us
    run = scenes.stopped(stop, at_us)
    teller = Teller(scenes.machine, scenes.chart, by_rungs=run.circuit, pump_told=True, contacts=False)
    tell = teller.full if level is Level.FULL else teller.short
    pressed = next((i for i in run.instants if i.at_us == at_us), None)
    told = () if pressed is None or not _does_anything(pressed) else tell(pressed)
    yield from told or (Sentence(f"The press changes {'nothing' if level is Level.FULL else 'no load'}."),)
    yield from _going_on(scenes.machine, run, at_us)
    before = pressed
    for later in (i for i in run.instants if i.at_us > at_us):
        for sentence in teller.short(later, arrivals_too=False):
            text = f"{seconds(later.at_us - at_us)} after the press {lowered(sentence.text)}"
            yield Sentence(text, sentence.rungs, sentence.facts)
        if before is not None and _begins_anew(scenes, before, later):
            yield Sentence("With that a new cycle begins: nobody need press anything for it.")
        before = later
    if run.loop:
        yield Sentence(f"From then on {listed(run.loop)} never settle{'s' if len(run.loop) == 1 else ''}.")
        return
    ended, start = run.instants[-1], scenes.machine.start
    if is_unlike(scenes.machine, scenes.resting, ended, by_rungs=run.circuit):
        yield Sentence(back_at_rest(scenes.machine, scenes.resting, ended, by_rungs=run.circuit))
        if start is not None:
            yield from _starting_again(scenes, stop, start, at_us)


def _begins_anew(scenes: Scenes, before: Instant, later: Instant) -> bool:
    """Whether the sequence leaves its rest, in which nobody presses a button."""
    rests = scenes.sequence.shape.resting
    by_hand = [change for change in later.inputs if not change.by and change.on]
    return rests(before.active) and not rests(later.active) and not later.parted and not by_hand


def _starting_again(scenes: Scenes, stop: str, start: str, at_us: int) -> Iterator[Sentence]:
    """What START does with a machine that a STOP has left otherwise than it was."""
    run, again_us = scenes.restarted(stop, start, at_us)
    pressed = next((i for i in run.instants if i.at_us == again_us), None)
    if pressed is None or run.loop:
        return
    first = next((i for i in run.instants if i.at_us >= again_us and any(o.on for o in i.outputs)), None)
    if first is not None:
        names = [o.signal for o in first.outputs if o.on]
        come = "comes" if len(names) == 1 else "come"
        yield Sentence(f"Pressed then, {start} begins the cycle from there: {listed(names)} {come} on.")
        return
    refused = [r for r in pressed.refused if r.contact.name.text == start]
    rungs = tuple(sorted({r.rung for r in refused}))
    why = f": {refused_words(refused)}" if refused else _wanting(scenes, start, pressed)
    yield Sentence(f"Pressed then, {start} does nothing{why}.", rungs)


def _wanting(scenes: Scenes, start: str, pressed: Instant) -> str:
    """What the sequence wants besides the press, told by its conditions."""
    for t in scenes.chart.transitions:
        parts = t.condition.of if isinstance(t.condition, And) else (t.condition,)
        if set(t.sources) <= pressed.active and Rise(device=start) in parts:
            unmet = [part for part in parts if isinstance(part, Signal) and part.device not in pressed.actuated]
            return f" unless {condition_words(both(*unmet), scenes.machine)}" if unmet else ""
    return ""


def _going_on(machine: Machine, run: Record, at_us: int) -> Iterator[Sentence]:
    """The rods that the press does not turn or stop."""
    pressed = next((i for i in run.instants if i.at_us == at_us), None)
    before = next((i for i in reversed(run.instants) if i.at_us < at_us), None)
    if pressed is None or before is None:
        return
    told = {stroke.actuator for stroke in pressed.strokes}
    names = sorted(pressed.moving & before.moving - told)
    kept = [n for n in names if machine.actuator(n).valve.kind is ValveKind.MEMORY]
    for name in names:
        why = ": its valve stays where it was put" if name in kept else ""
        yield Sentence(f"{name} goes on{why}.")


def _does_anything(instant: Instant) -> bool:
    return bool(instant.coils or instant.outputs or instant.steps or instant.strokes)
