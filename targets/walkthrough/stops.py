"""What STOP does in each phase of the cycle, told from runs in which it is pressed there."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.condition import Signal, walk
from compiler.machine import Machine, ValveKind
from compiler.walk.changes import Instant
from compiler.walk.record import Record
from targets.walkthrough.moments import Teller
from targets.walkthrough.rest import back_at_rest
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
    """A passage for each phase; phases of a long cycle are thinned out, and that is said."""
    stop = stop_of(scenes)
    if stop is None:
        return Section("What STOP does", (), "This machine has no STOP.")
    phases = scenes.phases()
    every = max(1, -(-len(phases) // _MOST_PHASES))
    opening = f"{stop} is pressed in the middle of each phase and let go 0.4 s later."
    if every > 1:
        opening += f" Of {len(phases)} phases one in {every} is told."
    passages = tuple(_passage(scenes, stop, phase, level) for phase in phases[::every])
    return Section(f"What {stop} does in each phase", passages, opening)


def phase_words(scenes: Scenes, phase: Phase) -> str:
    """``S1, “extend RAM until at-end”``."""
    named = []
    for name in phase.steps:
        words = " ".join(scenes.chart.step(name).words.text.split()).split(", within ")[0]
        named.append(f"{name}, “{words}”" if words else name)
    return " and ".join(named)


def _passage(scenes: Scenes, stop: str, phase: Phase, level: Level) -> Passage:
    run = scenes.stopped(stop, phase.middle_us)
    return Passage(tuple(_told(scenes, run, phase.middle_us, level)), None, f"In {phase_words(scenes, phase)}")


def _told(scenes: Scenes, run: Record, at_us: int, level: Level) -> Iterator[Sentence]:
    teller = Teller(scenes.machine, scenes.chart, by_rungs=run.circuit, pump_told=True)
    tell = teller.full if level is Level.FULL else teller.short
    pressed = next((i for i in run.instants if i.at_us == at_us), None)
    told = () if pressed is None or not _does_anything(pressed) else tell(pressed)
    yield from told or (Sentence(f"The press changes {'nothing' if level is Level.FULL else 'no load'}."),)
    yield from _going_on(scenes.machine, run, at_us)
    for later in (i for i in run.instants if i.at_us > at_us):
        for sentence in teller.short(later):
            text = f"{seconds(later.at_us - at_us)} after the press {lowered(sentence.text)}"
            yield Sentence(text, sentence.rungs, sentence.facts)
    if run.loop:
        yield Sentence(f"From then on {listed(run.loop)} never settle{'s' if len(run.loop) == 1 else ''}.")
        return
    yield Sentence(back_at_rest(scenes.machine, scenes.normal.instants[0], run.instants[-1], by_rungs=run.circuit))


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
